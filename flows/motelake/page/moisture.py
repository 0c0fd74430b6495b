"""How moist the air was: the dew point on each storey through the campaign, with the reach of its zones."""

from motelake.page import words
from motelake.page.answers import Answer, Row
from motelake.page.drawing import Chart, Frame
from motelake.page.marks import (
    along_clock,
    closed_hours,
    layer,
    over_time,
    quantity,
    stacked,
    text_of,
    unbroken,
)
from motelake.page.scene import Scene

_MOST_SPANS = 240


def draw_moisture(answer: Answer, scene: Scene, frame: Frame) -> Chart | None:
    """A panel a storey: the mean dew point, a band from the driest minute to the moistest, and where."""
    rows = [row for row in answer.rows if row["dew_point_c"] is not None]
    if not rows:
        return None
    frame = frame.with_margin(16)
    peaks: dict[str, Row] = {}
    for row in rows:
        level = row["level"] or ""
        if level not in peaks or row["dew_point_c"] > peaks[level]["dew_point_c"]:
            peaks[level] = row
    span_h = max(0.5, scene.hours(scene.shown_to) / _MOST_SPANS)
    found: dict[str, dict[int, list[float]]] = {}
    for row in rows:
        place = int(scene.hours(row["minute_at"]) / span_h)
        found.setdefault(row["level"] or "", {}).setdefault(place, []).append(row["dew_point_c"])
    lowest = min(row["dew_point_c"] for row in rows)
    highest = max(row["dew_point_c"] for row in rows)
    levels = [level for level in (*reversed(scene.levels), "") if level in found]
    panels = [
        _panel(peaks[level], found[level], span_h=span_h, reach=(lowest, highest), scene=scene, frame=frame)
        for level in levels
    ]
    return over_time({"vconcat": panels, "spacing": frame.letter_px}, scene, frame)


def _panel(
    peak: Row,
    spans: dict[int, list[float]],
    *,
    span_h: float,
    reach: tuple[float, float],
    scene: Scene,
    frame: Frame,
) -> Chart:
    points = [
        {
            "hour": (place + 0.5) * span_h,
            "value": sum(values) / len(values),
            "low": min(values),
            "high": max(values),
        }
        for place, values in spans.items()
    ]
    heard = unbroken(points, span_h)
    alone = {"detail": text_of("stretch")}
    x = along_clock("hour", scene)
    axis = {
        "title": None,
        "tickCount": 3,
        "domain": False,
        "ticks": False,
        "labelExpr": "datum.label + ' °C'",
    }

    def y(name: str) -> Chart:
        return quantity(name, list(reach), axis=None if frame.is_narrow else axis, nice=True)

    peak_hour = scene.hours(peak["minute_at"])
    is_late = peak_hour > scene.hours(scene.shown_to) / 2
    size = words.with_unit(words.number(round(peak["dew_point_c"], 1), 3), "Cel")
    told = f"{size}, {scene.place(peak['zone'])}"
    top = [{"hour": peak_hour, "value": peak["dew_point_c"], "text": told}]
    layers = [
        closed_hours(scene, frame),
        layer(
            "area",
            heard,
            {"x": x, "y": y("low"), "y2": {"field": "high"}} | alone,
            color=frame.palette.fall_2,
            opacity=0.5,
        ),
        layer("line", heard, {"x": x, "y": y("value")} | alone, color=frame.palette.fall_4, strokeWidth=2),
        layer(
            "text",
            [{"name": frame.fitted(words.name(peak["level"] or ""), 130)}],
            {"x": {"value": 0}, "y": {"value": 0}, "text": text_of("name")},
            align="left" if frame.is_narrow else "right",
            dx=2 if frame.is_narrow else -54,
            dy=6,
            fontWeight="bold",
            color=frame.palette.ink,
        ),
        layer(
            "text",
            top,
            {"x": x, "y": y("value"), "text": text_of("text")},
            align="right" if is_late else "left",
            dx=-4 if is_late else 4,
            dy=-frame.letter_px * 0.6,
            color=frame.palette.ink,
        ),
    ]
    return stacked(layers, frame, min(frame.row_px * 2.6, frame.most_px / 4))
