"""Values with their intervals, a row for each: the form for effects, differences and correlations."""

from collections.abc import Sequence
from dataclasses import dataclass

from motelake.page.drawing import Chart, Frame
from motelake.page.marks import lane, layer, quantity, row_names, stacked

MOST = 24


@dataclass(frozen=True)
class Interval:
    """A value, and its 95 % interval where there is one."""

    name: str
    value: float
    low: float | None = None
    high: float | None = None

    @property
    def is_sure(self) -> bool:
        """True where the interval leaves out nought."""
        return self.low is not None and self.high is not None and (self.low > 0 or self.high < 0)


def draw_intervals(
    intervals: Sequence[Interval], unit: str, frame: Frame, domain: tuple[float, float] | None = None
) -> Chart | None:
    """A dot at each value and a bar over its interval; the dot is hollow where the interval does not exist or
    holds nought.
    """
    shown = intervals[:MOST]
    if not shown:
        return None
    frame = frame.with_names(interval.name for interval in shown)
    points = [
        {
            "lane": number,
            "value": interval.value,
            "low": interval.low,
            "high": interval.high,
            "is_sure": interval.is_sure,
        }
        for number, interval in enumerate(shown)
    ]
    ends = [end for one in shown for end in (one.low, one.high, one.value) if end is not None]
    reach = domain or (min(0.0, *ends), max(0.0, *ends))
    axis = {
        "title": unit or None,
        "titleAnchor": "end",
        "titleAlign": "right",
        "tickCount": 4 if frame.is_narrow else 7,
        "gridOpacity": 0.7,
        "domain": False,
    }
    y = lane(len(points))
    down = 9 if frame.is_narrow else 0

    def x(name: str) -> Chart:
        return quantity(name, reach, axis=axis, nice=domain is None)

    fill = {
        "field": "is_sure",
        "type": "nominal",
        "scale": {"domain": [True, False], "range": [frame.palette.rise_4, frame.palette.paper]},
        "legend": None,
    }
    layers = [
        layer("rule", [{"value": 0.0}], {"x": x("value")}, color=frame.palette.soft, strokeWidth=1.2),
        layer(
            "rule",
            [point for point in points if point["low"] is not None],
            {"x": x("low"), "x2": {"field": "high"}, "y": y},
            color=frame.palette.rise_3,
            strokeWidth=5,
            opacity=0.6,
            yOffset=down,
        ),
        layer(
            "point",
            points,
            {"x": x("value"), "y": y, "fill": fill},
            stroke=frame.palette.rise_4,
            strokeWidth=2,
            size=frame.letter_px * 7,
            opacity=1,
            yOffset=down,
        ),
        row_names([interval.name for interval in shown], frame),
    ]
    lane_px = 42 if frame.is_narrow else frame.lane_px(len(points))
    return stacked(layers, frame, lane_px * len(points))
