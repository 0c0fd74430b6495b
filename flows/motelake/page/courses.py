"""Values along time with a band: how a correlation holds, and the usual course around events of a kind."""

from collections.abc import Sequence

from motelake.page import words
from motelake.page.answers import Answer, Row
from motelake.page.drawing import Chart, Frame
from motelake.page.marks import along_clock, layer, over_time, quantity, stacked, text_of
from motelake.page.scene import Scene

_MOST_PANELS = 8


def draw_stability(answer: Answer, scene: Scene, frame: Frame) -> Chart | None:
    """The correlation of each span of time with its 95 % interval; the whole campaign's as a line."""
    rows = [row for row in answer.rows if row["r"] is not None]
    if not rows:
        return None
    frame = frame.with_margin(16)
    half_h = int(answer.given.get("every_min", "240")) / 120
    points = [
        {"hour": scene.hours(row["at"]) + half_h, "r": row["r"], "low": row["low"], "high": row["high"]}
        for row in rows
    ]
    axis = {
        "values": [-1, -0.5, 0, 0.5, 1],
        "title": None,
        "domain": False,
        "ticks": False,
        "gridOpacity": 0.7,
    }
    x = along_clock("hour", scene)

    def y(name: str) -> Chart:
        return quantity(name, [-1, 1], axis=None if frame.is_narrow else axis)

    layers = [
        layer("rule", [{"r": 0.0}], {"y": y("r")}, color=frame.palette.soft),
        layer(
            "rule",
            [{"r": rows[0]["whole_r"]}],
            {"y": y("r")},
            color=frame.palette.fall_4,
            strokeDash=[6, 4],
        ),
        layer(
            "rule",
            [point for point in points if point["low"] is not None],
            {"x": x, "y": y("low"), "y2": {"field": "high"}},
            color=frame.palette.fall_3,
            strokeWidth=5,
            opacity=0.5,
        ),
        layer(
            "point",
            points,
            {"x": x, "y": y("r")},
            color=frame.palette.fall_4,
            filled=True,
            size=frame.letter_px * 6,
            opacity=1,
        ),
    ]
    return over_time(stacked(layers, frame, frame.row_px * 7), scene, frame)


def draw_courses(answer: Answer, scene: Scene, frame: Frame) -> Chart | None:
    """The usual course around the start of events, a panel for each kind and measure, with its 95 % band."""
    panels: dict[tuple[str, str], list[Row]] = {}
    for row in answer.rows:
        if row["value"] is not None:
            panels.setdefault((row["kind"], row["measure"]), []).append(row)
    if not panels:
        return None
    across = 1 if frame.is_narrow or len(panels) == 1 else 2
    shown = [_panel(rows, scene, frame, across) for rows in list(panels.values())[:_MOST_PANELS]]
    return {"concat": shown, "columns": across, "spacing": frame.letter_px * 2}


def _panel(rows: Sequence[Row], scene: Scene, frame: Frame, across: int) -> Chart:
    kind, measure = rows[0]["kind"], rows[0]["measure"]
    letter = frame.letter_px
    width = (frame.width - letter * 2 * (across - 1)) / across - letter * 5
    height = min(frame.row_px * 5, frame.most_px / 2)
    every = rows[1]["offset_min"] - rows[0]["offset_min"] if len(rows) > 1 else 5
    points = [
        {
            "minute": row["offset_min"] + every / 2,
            "value": row["value"],
            "low": row["low"],
            "high": row["high"],
        }
        for row in rows
    ]
    ends = [end for row in rows for end in (row["low"], row["high"], row["value"]) if end is not None]
    reach = [min(0.0, *ends), max(0.0, *ends)]
    axis = {
        "title": None,
        "grid": False,
        "tickCount": 5,
        "labelExpr": "datum.value == 0 ? 'start' : datum.label",
    }
    x = quantity("minute", [rows[0]["offset_min"], rows[-1]["offset_min"] + every], axis=axis)

    def y(name: str) -> Chart:
        shown = {"title": None, "tickCount": 4, "domain": False, "ticks": False, "gridOpacity": 0.7}
        return quantity(
            name, reach, axis=shown | {"minExtent": letter * 4, "maxExtent": letter * 4}, nice=True
        )

    unit = words.unit_of_difference(scene.unit(measure))
    title = f"{words.capital(words.name(kind))}: {words.inner(scene.measure_title(measure))}"
    title = f"{title}, {unit}" if unit else title
    heading = layer(
        "text",
        [{"text": frame.fitted(title, width + letter * 3)}],
        {"x": {"value": -letter * 4}, "y": {"value": -letter * 1.2}, "text": text_of("text")},
        align="left",
        fontWeight="bold",
        color=frame.palette.ink,
    )
    layers = [
        layer("rule", [{"value": 0.0}], {"y": y("value")}, color=frame.palette.soft),
        layer("rule", [{"minute": 0}], {"x": x}, color=frame.palette.soft, strokeDash=[4, 3]),
        layer(
            "area",
            [point for point in points if point["low"] is not None],
            {"x": x, "y": y("low"), "y2": {"field": "high"}},
            color=frame.palette.rise_3,
            opacity=0.3,
        ),
        layer("line", points, {"x": x, "y": y("value")}, color=frame.palette.rise_4, strokeWidth=2.6),
    ]
    return {"layer": [*layers, heading], "width": width, "height": height}
