"""Bars from nought: how doubtful the place of each mote is, and how fast clocks run."""

from math import ceil, floor

from motelake.page import words
from motelake.page.answers import Answer, Row
from motelake.page.drawing import Chart, Frame
from motelake.page.marks import lane, layer, quantity, row_names, stacked, text_of
from motelake.page.scene import Scene

MOST = 20
_BINS = 48


def draw_misplaced(answer: Answer, scene: Scene, frame: Frame) -> Chart | None:
    """The motes whose place is most in doubt, with what speaks against it; longer is more doubtful."""
    rows = answer.rows[:MOST]
    if not rows:
        return None
    names = [f"{words.name(row['mote'])}, {scene.place(row['zone'])}" for row in rows]
    frame = frame.with_names(names)
    most = max(row["doubt"] for row in rows)
    share = 0.3 if not frame.is_narrow else 0.2
    bars = [
        {
            "lane": number,
            "start": 0,
            "doubt": row["doubt"],
            "text": frame.fitted(
                evidence(row, scene)[0], frame.plot_px * (1 - row["doubt"] / most * share) - 10
            ),
        }
        for number, row in enumerate(rows)
    ]
    reach = [0, most / share]
    x, y = quantity("doubt", reach), lane(len(rows))
    down = 9 if frame.is_narrow else 0
    layers = [
        layer(
            "rect",
            bars,
            {"x": quantity("start", reach), "x2": {"field": "doubt"}, "y": y},
            height=12,
            yOffset=down,
            color=frame.palette.doubt,
        ),
        layer(
            "text",
            bars,
            {"x": x, "y": y, "text": text_of("text")},
            align="left",
            dx=7,
            dy=down + 1,
            color=frame.palette.soft,
        ),
        row_names(names, frame),
    ]
    lane_px = 44.0 if frame.is_narrow else frame.lane_px(len(rows))
    return stacked(layers, frame, lane_px * len(rows))


def evidence(row: Row, scene: Scene) -> list[str]:
    """What speaks against the place of a mote, the strongest first, with the names and clocks of people."""
    told = []
    for clause in words.name(row["evidence"], 300).split("; "):
        measure, _, found = clause.partition(": ")
        for zone in sorted(scene.zones, key=len, reverse=True):
            found = found.replace(f"goes with {zone} (", f"goes with {scene.place(zone)} (")
        found = words.on_clocks(found, scene.time_zone).replace("(r -", "(r −")
        told.append(f"{words.inner(scene.measure_title(measure))}: {found}")
    return told


def draw_clocks(answer: Answer, scene: Scene, frame: Frame) -> Chart | None:
    """How many boots run how fast against the register's period; beyond the dashed limits it is wrong."""
    rows = [row for row in answer.rows if row["drift_ppm"] is not None]
    if not rows:
        return None
    frame = frame.with_margin(6)
    limit = max(row["limit_ppm"] for row in rows)
    low = min(-1.15 * limit, *(row["drift_ppm"] for row in rows))
    high = max(1.15 * limit, *(row["drift_ppm"] for row in rows))
    width = (high - low) / _BINS
    counts: dict[tuple[int, bool], int] = {}
    for row in rows:
        place = min(_BINS - 1, floor((row["drift_ppm"] - low) / width)), bool(row["is_beyond_limit"])
        counts[place] = counts.get(place, 0) + 1
    tallest = max(counts.values())
    bars = [
        {
            "from": low + place * width,
            "to": low + (place + 1) * width,
            "floor": 0,
            "boots": count,
            "is_wrong": wrong,
        }
        for (place, wrong), count in sorted(counts.items())
    ]
    axis = {
        "title": "parts per million, above 0: slow",
        "tickCount": 4 if frame.is_narrow else 9,
        "titleAnchor": "end",
        "titleAlign": "right",
        "grid": False,
    }
    heights = {"title": None, "tickMinStep": 1, "tickCount": 5, "domain": False, "ticks": False}
    x, reach = quantity("from", [low, high], axis=axis), [0, ceil(tallest * 1.1)]
    layers = [
        layer(
            "rect",
            bars,
            {
                "x": x,
                "x2": {"field": "to"},
                "y": quantity("floor", reach, axis=heights),
                "y2": {"field": "boots"},
                "color": {
                    "field": "is_wrong",
                    "type": "nominal",
                    "scale": {"domain": [False, True], "range": [frame.palette.crowd, frame.palette.rise_4]},
                    "legend": None,
                },
            },
        ),
        layer(
            "rule",
            [{"from": -limit}, {"from": limit}],
            {"x": x},
            color=frame.palette.ink,
            strokeDash=[4, 3],
        ),
    ]
    return stacked(layers, frame, min(frame.row_px * 7, frame.most_px))
