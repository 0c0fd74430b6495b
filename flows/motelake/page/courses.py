"""Values along time with a band: how a correlation holds, and the usual course around events of a kind."""

from motelake.page.answers import Answer
from motelake.page.drawing import Chart, Frame
from motelake.page.marks import along_clock, layer, over_time, quantity, stacked
from motelake.page.scene import Scene


def draw_stability(answer: Answer, scene: Scene, frame: Frame) -> Chart | None:
    """The correlation of each span of time with its 95 % interval, and that of the whole campaign as a line."""
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
