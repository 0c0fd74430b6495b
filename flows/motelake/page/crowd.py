"""Where the crowd was: the building as a stack of storeys, each with its steps through time."""

from typing import TYPE_CHECKING

from motelake.page import words
from motelake.page.answers import Answer, Ask
from motelake.page.drawing import Frame
from motelake.page.figures import Figure, Section, drawn
from motelake.page.marks import along_clock, clock_axis, closed_hours, data, programme
from motelake.page.scene import Scene

if TYPE_CHECKING:
    import altair as alt

    from motelake.page.drawing import Picture

_FILL = 0.9


def draw_crowd(answer: Answer, scene: Scene, frame: Frame) -> "Picture | None":
    """Storeys one above the other as in the building; the height of a hill is the steps of that span."""
    import altair as alt

    heights = {row["level"]: row["height_m"] or 0.0 for row in answer.rows}
    levels = sorted(heights, key=lambda level: (heights[level], level))
    counted = [row for row in answer.rows if row["steps"] is not None]
    most = max((float(row["steps"]) for row in counted), default=0.0)
    if not most:
        return None
    minutes = int(answer.given.get("every_min", "60"))
    rows = [
        {
            "hour": scene.hours(row["at"]) + minutes / 120,
            "floor": levels.index(row["level"]),
            "top": levels.index(row["level"]) + _FILL * float(row["steps"]) / most,
            "level": row["level"],
        }
        for row in counted
    ]
    peaks = [
        max((row for row in counted if row["level"] == level), key=lambda row: row["steps"])
        for level in levels
    ]
    notes = [
        {
            "hour": scene.hours(row["at"]) + minutes / 120,
            "top": levels.index(row["level"]) + _FILL * float(row["steps"]) / most,
            "text": f"{words.number(float(row['steps']), 3)} at {words.clock(row['at'], scene.time_zone)}",
            "side": "right" if scene.hours(row["at"]) > 0.8 * scene.hours(scene.shown_to) else "left",
        }
        for row in peaks
        if row["steps"]
    ]
    x = along_clock("hour", scene)
    y = alt.Y("floor:Q", scale=alt.Scale(domain=[0, len(levels) + 0.25]), axis=None)
    y_top = alt.Y("top:Q", scale=alt.Scale(domain=[0, len(levels) + 0.25]), axis=None)
    hills = (
        alt.Chart(data(rows))
        .mark_area(
            interpolate="monotone",
            color=frame.palette.crowd,
            fillOpacity=0.55,
            line={"color": frame.palette.crowd, "strokeWidth": 1.6},
        )
        .encode(x=x, y=y, y2="top:Q", detail="level:N")
    )
    floors = (
        alt.Chart(data([{"floor": floor} for floor in range(len(levels))]))
        .mark_rule(color=frame.palette.soft, strokeWidth=1.2)
        .encode(y=y)
    )
    names = [
        {
            "floor": floor,
            "name": frame.fitted(words.name(level), frame.margin_px - 12 if not frame.is_narrow else 120),
        }
        for floor, level in enumerate(levels)
    ]
    labels = (
        alt.Chart(data(names))
        .mark_text(
            align="left" if frame.is_narrow else "right",
            dx=4 if frame.is_narrow else -8,
            dy=-9,
            fontWeight="bold",
            color=frame.palette.ink,
        )
        .encode(x=alt.value(0), y=y, text="name:N")
    )
    told = [
        alt.Chart(data([note for note in notes if note["side"] == side]))
        .mark_text(align=side, dx=6 if side == "left" else -6, dy=-8, color=frame.palette.ink)
        .encode(x=x, y=y_top, text="text:N")
        for side in ("left", "right")
    ]
    height = max(frame.row_px * 2.4, 60) * len(levels)
    stack = alt.layer(closed_hours(scene, frame), hills, floors, labels, *told).properties(
        width=frame.plot_px, height=height
    )
    return under_programme(stack, scene, frame)


def under_programme(chart: "alt.LayerChart | alt.FacetChart", scene: Scene, frame: Frame) -> "Picture":
    """A picture over time with the programme and the clock below it."""
    import altair as alt

    axis = clock_axis(scene, frame)
    below = programme(scene, frame, axis)
    if below is None:
        below = alt.layer(
            alt.Chart(data([{"from": 0}])).mark_rule(opacity=0).encode(x=along_clock("from", scene, axis))
        ).properties(width=frame.plot_px, height=2)
    return alt.vconcat(chart, below, spacing=8)


def tell_crowd(ask: Ask, scene: Scene) -> Section:
    """The section on where the crowd was and which way it went."""
    question = "Where was the crowd, and which way did it go?"
    hours = scene.hours(scene.shown_to)
    answer = ask("flow.steps_by_level", {"every_min": "30" if hours <= 96 else "60"})
    if answer is None or not any(row["steps"] for row in answer.rows):
        return Section(
            "crowd", question, "No measure of this campaign counts people's steps.",
            ["A measure takes that part when its role in register/measures.csv is crowd."],
        )  # fmt: skip
    totals: dict[str, float] = {}
    for row in answer.rows:
        totals[row["level"]] = totals.get(row["level"], 0.0) + float(row["steps"] or 0)
    busiest = max(totals, key=lambda level: totals[level])
    peak = max(answer.rows, key=lambda row: row["steps"] or 0)
    told = (
        f"Most steps fell on the storey {words.name(busiest)}: {words.share(totals[busiest] / sum(totals.values()))} of "
        f"all. The busiest half hour was {words.moment(peak['at'], scene.time_zone)}, on {words.name(peak['level'])}."
    )
    if answer.given["every_min"] == "60":
        told = told.replace("half hour", "hour")
    figure = Figure(
        "Steps",
        "Steps on each storey through the campaign, stacked as the building is.",
        answer,
        drawn(draw_crowd, answer, scene),
        reading="The height of a hill is the steps of one span, on one scale for all storeys; the number is its top. "
        "Shaded: closed. Below: the programme.",
    )
    return Section("crowd", question, told, figures=[figure], caution=CAUTION)


CAUTION = (
    "Steps are what cheap motes felt in the floor, uncalibrated, and only where there are motes. They are no count of "
    "people and no measure of how full a room is: not for safety, compliance, occupancy limits or evacuation, where "
    "local codes and licensed practice decide."
)
