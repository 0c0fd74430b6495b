"""What changed most: the largest sure changes, with place, time, size, certainty and the nearest event."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import timedelta

from motelake.page import words
from motelake.page.answers import Answer, Ask, Row
from motelake.page.drawing import Chart, Frame
from motelake.page.figures import Figure, Point, Section
from motelake.page.profiles import Profile, Span, draw_profiles
from motelake.page.scene import Scene
from motelake.page.shades import is_sure

QUESTION = "What changed most?"
VIEW = "change.since_baseline"
_MOST = 8
_MOST_OF_A_MEASURE = 2


def tell_changes(ask: Ask, scene: Scene) -> Section:
    """The section on the largest changes."""
    answer = ask(VIEW, {})
    if answer is None or not answer.rows:
        why = (
            "The campaign names no quiet hours, so there is nothing to compare with."
            if not scene.has_baseline
            else "No zone has enough minutes in its quiet hours and outside them yet."
        )
        return Section("changes", QUESTION, "Nothing can be said about changes.", [why])
    chosen = largest(answer.rows, scene)
    if not chosen:
        return Section(
            "changes", QUESTION, "Nothing stands out from the quiet hours.",
            [f"None of {len(answer.rows):,} spans of time is both unusual and sure."],
        )  # fmt: skip
    minutes = _minutes(answer)
    figure = Figure(
        "Changes",
        "When and where the largest changes were.",
        answer,
        draw_changes,
        reading="A row is one zone and measure through the campaign against its own quiet hours: up is more, "
        "down is less, each row on its own scale. Strong colour is sure, weak is not. The number is the "
        f"change at its mark. {scene.beside_time}",
        rows=chosen,
        columns=("zone", "measure", "at", "change", "low", "high", "score", "n_effective"),
    )
    first = chosen[0]
    return Section(
        "changes",
        QUESTION,
        f"{_head(first, scene)} ({words.interval(first['low'], first['high'])}), "
        f"{words.moment(first['at'], scene.time_zone)}{_event(first, minutes, scene)}.",
        lately=_lately(answer, scene, minutes),
        points=[_point(row, scene, minutes, answer) for row in chosen],
        figures=[figure],
    )


def largest(rows: Sequence[Row], scene: Scene, most: int = _MOST) -> list[Row]:
    """The first sure rows of an answer: one of each measure, then another of each from another zone.

    Measures that tell of people come first: daylight and the weather change by themselves.
    """
    of_measure: dict[str, list[Row]] = {}
    for row in rows:
        same = of_measure.setdefault(row["measure"], [])
        if (
            is_sure(row)
            and len(same) < _MOST_OF_A_MEASURE
            and row["zone"] not in {one["zone"] for one in same}
        ):
            same.append(row)
    ordered = sorted(of_measure, key=scene.rank)
    turns = [
        of_measure[name][turn]
        for turn in range(_MOST_OF_A_MEASURE)
        for name in ordered
        if len(of_measure[name]) > turn
    ]
    return turns[:most]


def draw_changes(answer: Answer, scene: Scene, frame: Frame) -> Chart | None:
    """A row for each of the largest changes: its zone and measure through the campaign, that change named."""
    length = timedelta(minutes=_minutes(answer))
    chosen = largest(answer.rows, scene)
    spans: dict[tuple[str, str], list[Span]] = {(row["zone"], row["measure"]): [] for row in chosen}
    for row in answer.rows:
        course = spans.get((row["zone"], row["measure"]))
        if course is not None and row["change"] is not None:
            course.append(Span(row["at"], row["at"] + length, row["change"], is_sure(row)))
    profiles = [
        Profile(
            scene.place(row["zone"]),
            scene.measure_title(row["measure"]),
            spans[row["zone"], row["measure"]],
            row["at"] + length / 2,
            _size(row, scene),
        )
        for row in chosen
    ]
    return draw_profiles(profiles, scene, frame)


def _lately(answer: Answer, scene: Scene, minutes: int) -> str:
    """What was the largest change in the last whole span, in a sentence; what tells of people comes first."""
    length = timedelta(minutes=minutes)
    whole = [
        row["at"]
        for row in answer.rows
        if scene.data_to and row["at"] + length <= scene.data_to + timedelta(minutes=1)
    ]
    if not whole:
        return ""
    last = max(whole)
    when = f"{words.moment(last, scene.time_zone)} to {words.clock(last + length, scene.time_zone)}"
    sure = [row for row in answer.rows if row["at"] == last and is_sure(row)]
    if not sure:
        return f"Heard last, {when}: nothing was surely away from its quiet hours."
    first = min(sure, key=lambda row: (scene.rank(row["measure"]), -abs(row["score"])))
    return (
        f"Heard last, {when}: {_head(first, scene)} against its quiet hours "
        f"({words.interval(first['low'], first['high'])})."
    )


def _minutes(answer: Answer) -> int:
    return int(answer.given.get("every_min", "60"))


def _size(row: Row, scene: Scene) -> str:
    return words.difference(row["change"], scene.unit(row["measure"]))


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
    event = _event(row, minutes, scene) or ", nothing in the programme near"
    return Point(
        _head(row, scene),
        f"{words.moment(start, zone)} to {words.clock(end, zone)}{event}. "
        f"{words.interval(row['low'], row['high'])}, "
        f"worth {words.independent_minutes(row['n_effective'])}.",
        call=replace(
            answer, given=dict(answer.given) | {"measure": row["measure"], "zone": row["zone"]}
        ).call,
        way="rise" if row["change"] > 0 else "fall",
    )
