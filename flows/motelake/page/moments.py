"""Stretches of time, a row for each: what happened when, and how much."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from motelake.page import words
from motelake.page.answers import Answer, Row
from motelake.page.drawing import Chart, Frame
from motelake.page.marks import along_clock, closed_hours, lane, layer, over_time, row_names, stacked, text_of
from motelake.page.scene import Scene

MOST = 20
_WAYS = {"rise": "rise_4", "fall": "fall_4", "gap": "soft"}


@dataclass(frozen=True)
class Moment:
    """One stretch of time with the words at it; way is rise, fall or gap."""

    name: str
    start: datetime
    end: datetime
    text: str
    way: str


def draw_moments(moments: Sequence[Moment], scene: Scene, frame: Frame) -> Chart | None:
    """The moments along the campaign's clocks; those of one name share a row, rows in the order they come "
    "in."""
    shown = [moment for moment in moments if moment.start < scene.shown_to and moment.end >= scene.shown_from]
    names = list(dict.fromkeys(moment.name for moment in shown))[:MOST]
    if not names:
        return None
    frame = frame.with_margin(min(48, max(8, *map(len, names))))
    end = scene.hours(scene.shown_to)
    least = 3 * end / frame.plot_px
    rows: list[Chart] = []
    for moment in shown:
        if moment.name in names:
            start = max(0.0, scene.hours(moment.start))
            stop = max(min(end, scene.hours(moment.end)), start + least)
            rows.append(
                {
                    "lane": names.index(moment.name),
                    "from": start,
                    "to": stop,
                    "way": moment.way,
                    "text": moment.text,
                    # The words go to whichever side has more room.
                    "is_late": start > end - stop,
                }
            )
    lane_px = 46 if frame.is_narrow else frame.lane_px(len(names))
    down = 10 if frame.is_narrow else 0
    y = lane(len(names))
    colours = frame.palette.named()
    alone = [row for row in rows if sum(other["lane"] == row["lane"] for other in rows) == 1]
    layers = [
        closed_hours(scene, frame),
        layer("rule", rows, {"y": y}, color=frame.palette.line, yOffset=down),
        layer(
            "rect",
            rows,
            {
                "x": along_clock("from", scene),
                "x2": {"field": "to"},
                "y": y,
                "color": {
                    "field": "way",
                    "type": "nominal",
                    "scale": {"domain": list(_WAYS), "range": [colours[name] for name in _WAYS.values()]},
                    "legend": None,
                },
            },
            height=min(frame.letter_px + 1, lane_px * 0.7),
            cornerRadius=2,
            yOffset=down,
        ),
        row_names(names, frame),
    ]
    for is_late in (False, True):
        layers.append(
            layer(
                "text",
                [row for row in alone if row["is_late"] is is_late],
                {"x": along_clock("from" if is_late else "to", scene), "y": y, "text": text_of("text")},
                align="right" if is_late else "left",
                dx=-6 if is_late else 6,
                dy=down + 1,
                fontWeight="bold",
                color=frame.palette.ink,
            )
        )
    return over_time(stacked(layers, frame, lane_px * len(names)), scene, frame)


def draw_shifts(answer: Answer, scene: Scene, frame: Frame) -> Chart | None:
    """The clearest shifts, with their time and size."""
    return draw_moments([shift_moment(row, scene) for row in answer.rows[:MOST]], scene, frame)


def shift_moment(row: Row, scene: Scene) -> Moment:
    """A shift as a moment of five minutes."""
    return Moment(
        f"{scene.place(row['zone'])}, {words.inner(scene.measure_title(row['measure']))}",
        row["at"],
        row["at"] + timedelta(minutes=5),
        words.with_unit(words.signed(row["size"]), scene.unit(row["measure"])),
        "rise" if row["size"] > 0 else "fall",
    )


def draw_silence(answer: Answer, scene: Scene, frame: Frame) -> Chart | None:
    """Gaps by what is likely to have caused them: a whole network, a whole zone, or one mote."""
    groups: dict[tuple[str, datetime], list[Row]] = {}
    for row in answer.rows:
        # Motes behind one gateway fall silent within a period of each other: the hour tells them together.
        hour = row["from_at"].replace(minute=0, second=0, microsecond=0)
        groups.setdefault((silent_name(row, scene), hour), []).append(row)
    moments = [
        Moment(
            name,
            min(row["from_at"] for row in rows),
            max(row["to_at"] for row in rows),
            f"{sum(row['bursts_missed'] for row in rows):,} missed",
            "gap",
        )
        for (name, _), rows in groups.items()
    ]
    moments.sort(key=lambda moment: moment.start - moment.end)
    return draw_moments(moments, scene, frame)


def silent_name(row: Row, scene: Scene) -> str:
    """What fell silent, by the likely cause."""
    match row["cause"]:
        case "collector":
            return "everything (collector)"
        case "gateway":
            return f"network {words.name(row['network'])} (gateway)"
        case "zone power":
            return f"{scene.place(row['zone'])} (power)"
    return f"mote {words.name(row['mote'])}"
