"""Which zones hold the crowd, hour by hour: a row of bars for each zone, all on one scale."""

from collections.abc import Sequence
from datetime import datetime, timedelta

from motelake.page import words
from motelake.page.answers import Answer, Row
from motelake.page.drawing import Chart, Frame
from motelake.page.marks import (
    along_clock,
    bars_on_floors,
    lane,
    layer,
    over_time,
    row_names,
    stacked,
    text_of,
)
from motelake.page.scene import Scene

MOST = 16
USUAL, MORE = "as usual", "far more than usual"
# A handful of steps at night makes large shares of nothing.
_LEAST_OF_BUSIEST = 0.02
_FLOOR, _FILL = 0.44, 0.8


def draw_shares(answer: Answer, scene: Scene, frame: Frame) -> Chart | None:
    """The share of all steps that falls to each zone; strong where it is far from the zone's usual share."""
    rows = busy_rows(answer.rows)
    if not rows:
        return None
    zones = fullest_zones(rows, scene)
    names = [scene.place(zone) for zone in zones]
    frame = frame.with_names(names)
    most = max(row["share_of_venue"] for row in rows)
    length = timedelta(minutes=int(answer.given.get("every_min", "60")))
    unusual = 0.25 * most
    bars = [
        {
            "from": scene.hours(row["at"]),
            "to": min(scene.hours(row["at"] + length), scene.hours(scene.shown_to)),
            "lane": zones.index(row["zone"]) + _FLOOR,
            "tip": zones.index(row["zone"]) + _FLOOR - _FILL * row["share_of_venue"] / most,
            "way": MORE if row["unlike_usual"] > unusual else USUAL,
        }
        for row in rows
        if row["zone"] in zones and row["share_of_venue"] and row["at"] >= scene.shown_from
    ]
    top = max(rows, key=lambda row: row["share_of_venue"])
    at = scene.hours(top["at"] + length / 2)
    is_late = at > scene.hours(scene.shown_to) / 2
    said = f"{words.share(top['share_of_venue'])} at {words.clock(top['at'], scene.time_zone)}"
    told = [{"hour": at, "lane": zones.index(top["zone"]), "text": said}]
    layers = [
        *bars_on_floors(
            bars,
            [
                {"lane": number + _FLOOR, "from": 0.0, "to": scene.hours(scene.shown_to)}
                for number in range(len(zones))
            ],
            len(zones),
            colours={USUAL: frame.palette.crowd, MORE: frame.palette.rise_4},
            scene=scene,
            frame=frame,
            legend={"orient": "top", "title": None, "symbolType": "square", "offset": 8},
        ),
        row_names(names, frame),
        layer(
            "text",
            told,
            {"x": along_clock("hour", scene), "y": lane(len(zones)), "text": text_of("text")},
            align="right" if is_late else "left",
            dx=-frame.letter_px if is_late else frame.letter_px,
            fontWeight="bold",
            color=frame.palette.ink,
        ),
    ]
    lane_px = 40.0 if frame.is_narrow else frame.lane_px(len(zones)) * 0.9
    return over_time(stacked(layers, frame, lane_px * len(zones)), scene, frame)


def fullest_zones(rows: Sequence[Row], scene: Scene) -> list[str]:
    """The zones that ever held the largest shares, highest storey first."""
    reached: dict[str, float] = {}
    for row in rows:
        reached[row["zone"]] = max(reached.get(row["zone"], 0.0), row["share_of_venue"])
    chosen = sorted(reached, key=lambda zone: (-reached[zone], zone))[:MOST]
    return [zone for zone in scene.zones_downwards() if zone in chosen]


def busy_rows(rows: Sequence[Row]) -> list[Row]:
    """The rows of spans in which the venue counted enough for a share to mean something."""
    counted: dict[datetime, float] = {}
    for row in rows:
        counted[row["at"]] = counted.get(row["at"], 0.0) + float(row["steps"] or 0)
    least = _LEAST_OF_BUSIEST * max(counted.values(), default=0.0)
    return [row for row in rows if row["share_of_venue"] is not None and counted[row["at"]] > least]
