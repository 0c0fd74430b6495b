"""What changed most: the largest sure changes, each with place, time, size, certainty and the nearest event."""

from collections.abc import Sequence
from datetime import timedelta
from typing import TYPE_CHECKING, Any

from motelake.page import words
from motelake.page.answers import Answer, Ask, Row
from motelake.page.crowd import under_programme
from motelake.page.drawing import Frame
from motelake.page.figures import Figure, Point, Section, drawn
from motelake.page.marks import along_clock, closed_hours, data
from motelake.page.scene import Scene
from motelake.page.strips import is_sure

if TYPE_CHECKING:

    from motelake.page.drawing import Picture

VIEW = "change.since_baseline"
_MOST = 8
_MOST_OF_A_MEASURE = 2


def tell_changes(ask: Ask, scene: Scene) -> Section:
    """The section on the largest changes."""
    answer = ask(VIEW, {})
    question = "What changed most?"
    if answer is None or not answer.rows:
        why = (
            "The campaign names no quiet hours, so there is nothing to compare with."
            if not scene.has_baseline
            else "No zone has enough minutes in its quiet hours and outside them yet."
        )
        return Section("changes", question, "Nothing can be said about changes.", [why])
    chosen = largest(answer.rows)
    if not chosen:
        return Section(
            "changes", question, "Nothing stands out from the quiet hours.",
            [f"None of {len(answer.rows):,} spans of time is both unusual and sure."],
        )  # fmt: skip
    minutes = _minutes(answer)
    pictures = drawn(draw_changes, answer, scene)
    figure = Figure(
        "Changes",
        "When and where the largest changes were.",
        answer,
        pictures,
        reading="Each bar is the stretch of time a change was found in; the number is the change against the zone's own "
        "quiet hours. Shaded: closed. Below: the programme.",
        rows=chosen,
        columns=("zone", "measure", "at", "change", "low", "high", "score", "n_effective"),
    )
    first = chosen[0]
    return Section(
        "changes",
        question,
        f"{scene.measure_title(first['measure'])} at {scene.place(first['zone'])}: {_size(first, scene)} against its "
        f"quiet hours, {words.moment(first['at'], scene.time_zone)}.",
        points=[_point(row, scene, minutes, answer) for row in chosen],
        figures=[figure],
    )


def largest(rows: Sequence[Row], most: int = _MOST) -> list[Row]:
    """The first sure rows of an answer, a few of each measure and none twice of one zone and measure."""
    chosen: list[Row] = []
    for row in rows:
        if not is_sure(row):
            continue
        same = [other for other in chosen if other["measure"] == row["measure"]]
        if len(same) < _MOST_OF_A_MEASURE and row["zone"] not in {other["zone"] for other in same}:
            chosen.append(row)
        if len(chosen) == most:
            break
    return chosen


def draw_changes(answer: Answer, scene: Scene, frame: Frame) -> "Picture | None":
    """A line for each of the largest changes, in the order of the answer, with its stretch of time and its size."""
    import altair as alt

    chosen = largest(answer.rows)
    if not chosen:
        return None
    length = timedelta(minutes=_minutes(answer))
    end = scene.hours(scene.shown_to)
    narrow = frame.is_narrow
    rows: list[dict[str, Any]] = []
    for lane, row in enumerate(chosen):
        start = scene.hours(row["at"])
        name = f"{scene.place(row['zone'])}, {scene.measure_title(row['measure']).lower()}"
        rows.append(
            {
                "lane": lane,
                "from": start,
                "to": min(end, start + length.total_seconds() / 3600),
                "way": "rise" if row["change"] > 0 else "fall",
                "text": _size(row, scene),
                "name": frame.fitted(name, frame.plot_px if narrow else frame.margin_px * 1.5),
                "side": "right" if start > 0.8 * end else "left",
            }
        )
    lane_px = 44 if narrow else frame.row_px
    y = alt.Y("lane:Q", scale=alt.Scale(domain=[-0.5, len(rows) - 0.5], reverse=True), axis=None)
    colour = alt.Color(
        "way:N",
        scale=alt.Scale(domain=["rise", "fall"], range=[frame.palette.rise_4, frame.palette.fall_4]),
        legend=None,
    )
    down = 9 if narrow else 0
    lines = alt.Chart(data(rows)).mark_rule(color=frame.palette.line, yOffset=down).encode(y=y)
    bars = (
        alt.Chart(data(rows))
        .mark_rect(height=frame.letter_px, cornerRadius=2, yOffset=down)
        .encode(x=along_clock("from", scene), x2="to:Q", y=y, color=colour)
    )
    sizes = [
        alt.Chart(data([row for row in rows if row["side"] == side]))
        .mark_text(
            align=side, dx=6 if side == "left" else -6, dy=down, fontWeight="bold", color=frame.palette.ink
        )
        .encode(x=along_clock("to" if side == "left" else "from", scene), y=y, text="text:N")
        for side in ("left", "right")
    ]
    names = (
        alt.Chart(data(rows))
        .mark_text(align="left" if narrow else "right", dx=0 if narrow else -10, dy=-9 if narrow else 0)
        .encode(x=alt.value(0), y=y, text="name:N")
    )
    chart = alt.layer(closed_hours(scene, frame), lines, bars, *sizes, names).properties(
        width=frame.plot_px, height=lane_px * len(rows)
    )
    return under_programme(chart, scene, frame)


def _minutes(answer: Answer) -> int:
    return int(answer.given.get("every_min", "60"))


def _size(row: Row, scene: Scene) -> str:
    return words.with_unit(words.signed(row["change"]), scene.unit(row["measure"]))


def _point(row: Row, scene: Scene, minutes: int, answer: Answer) -> Point:
    zone, start = scene.time_zone, row["at"]
    end = start + timedelta(minutes=minutes)
    low, high = sorted((row["low"], row["high"]))
    interval = f"{words.signed(low)} to {words.with_unit(words.signed(high), scene.unit(row['measure']))}"
    near = scene.nearest_event(row["zone"], start, end)
    event = (
        f"{words.capital(near[1])} “{near[0].title}”" if near else "Nothing in the programme within an hour"
    )
    return Point(
        f"{scene.place(row['zone'])}: {scene.measure_title(row['measure']).lower()} {_size(row, scene)}",
        f"{words.moment(start, zone)} to {words.clock(end, zone)}. {event}. "
        f"95 % interval {interval}, resting on {words.number(row['n_effective'])} independent minutes of {row['n']}.",
        call=Answer(VIEW, (), dict(answer.given) | {"measure": row["measure"], "zone": row["zone"]}).call,
        way="rise" if row["change"] > 0 else "fall",
    )
