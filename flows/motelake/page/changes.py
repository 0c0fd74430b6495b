"""What changed most: the largest sure changes, each with place, time, size, certainty and the nearest event."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import timedelta
from typing import Any

from motelake.page import words
from motelake.page.answers import Answer, Ask, Row
from motelake.page.drawing import Chart, Frame
from motelake.page.figures import Figure, Point, Section, drawn
from motelake.page.marks import along_clock, closed_hours, lane, layer, over_time, row_names, stacked, text_of
from motelake.page.scene import Scene
from motelake.page.strips import is_sure

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
        f"{_head(first, scene)}, {words.moment(first['at'], scene.time_zone)}{_event(first, minutes, scene)}.",
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


def draw_changes(answer: Answer, scene: Scene, frame: Frame) -> Chart | None:
    """A line for each of the largest changes, in the order of the answer, with its stretch of time and its size."""
    chosen = largest(answer.rows)
    if not chosen:
        return None
    names = [
        f"{scene.place(row['zone'])}, {words.inner(scene.measure_title(row['measure']))}" for row in chosen
    ]
    frame = frame.with_margin(min(48, max(map(len, names))))
    length = timedelta(minutes=_minutes(answer))
    end = scene.hours(scene.shown_to)
    rows: list[dict[str, Any]] = [
        {
            "lane": number,
            "from": scene.hours(row["at"]),
            "to": min(end, scene.hours(row["at"] + length)),
            "way": "rise" if row["change"] > 0 else "fall",
            "text": _size(row, scene),
        }
        for number, row in enumerate(chosen)
    ]
    y = lane(len(rows))
    down = 10 if frame.is_narrow else 0
    colour = {
        "field": "way",
        "type": "nominal",
        "scale": {"domain": ["rise", "fall"], "range": [frame.palette.rise_4, frame.palette.fall_4]},
        "legend": None,
    }
    layers = [
        closed_hours(scene, frame),
        layer("rule", rows, {"y": y}, color=frame.palette.line, yOffset=down),
        layer(
            "rect",
            rows,
            {"x": along_clock("from", scene), "x2": {"field": "to"}, "y": y, "color": colour},
            height=frame.letter_px + 1,
            cornerRadius=2,
            yOffset=down,
        ),
        row_names(names, frame),
    ]
    for is_late in (False, True):
        layers.append(
            layer(
                "text",
                [row for row in rows if (row["from"] > 0.72 * end) is is_late],
                {"x": along_clock("from" if is_late else "to", scene), "y": y, "text": text_of("text")},
                align="right" if is_late else "left",
                dx=-6 if is_late else 6,
                dy=down + 1,
                fontWeight="bold",
                color=frame.palette.ink,
            )
        )
    lane_px = 46 if frame.is_narrow else frame.row_px
    return over_time(stacked(layers, frame, lane_px * len(rows)), scene, frame)


def _minutes(answer: Answer) -> int:
    return int(answer.given.get("every_min", "60"))


def _size(row: Row, scene: Scene) -> str:
    return words.with_unit(words.signed(row["change"]), scene.unit(row["measure"]))


def _head(row: Row, scene: Scene) -> str:
    return (
        f"{scene.place(row['zone'])}: {words.inner(scene.measure_title(row['measure']))} {_size(row, scene)}"
    )


def _event(row: Row, minutes: int, scene: Scene) -> str:
    near = scene.nearest_event(row["zone"], row["at"], row["at"] + timedelta(minutes=minutes))
    return f", {near[1]} “{near[0].title}”" if near else ""


def _point(row: Row, scene: Scene, minutes: int, answer: Answer) -> Point:
    zone, start = scene.time_zone, row["at"]
    end = start + timedelta(minutes=minutes)
    interval = f"{words.signed(row['low'])} to {words.with_unit(words.signed(row['high']), scene.unit(row['measure']))}"
    event = _event(row, minutes, scene) or ", nothing in the programme near"
    return Point(
        _head(row, scene),
        f"{words.moment(start, zone)} to {words.clock(end, zone)}{event}. 95 % interval {interval}, worth "
        f"{words.number(row['n_effective'])} independent minutes.",
        call=replace(
            answer, given=dict(answer.given) | {"measure": row["measure"], "zone": row["zone"]}
        ).call,
        way="rise" if row["change"] > 0 else "fall",
    )
