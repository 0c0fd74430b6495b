"""What the events of a kind did to a measure, against matched windows without them."""

from collections.abc import Mapping, Sequence
from dataclasses import replace

from motelake.page import words
from motelake.page.answers import Answer, Ask, Row
from motelake.page.courses import draw_courses
from motelake.page.drawing import Chart, Frame
from motelake.page.figures import Figure, Section
from motelake.page.intervals import MOST, Interval, draw_intervals
from motelake.page.scene import Scene

QUESTION = "What does an event of a kind do to its place?"
_MOST_MEASURES = 4
# A crowd comes before its event begins, so what is there during it is compared, not what came on top.
AT_ONCE = {"before_min": "0"}
_COLUMNS = (
    "event", "measure", "zone", "before", "during", "after", "matched", "effect", "low", "high", "p",
    "matched_by", "matched_n", "overlaps", "note",
)  # fmt: skip


def draw_effects(answer: Answer, scene: Scene, frame: Frame) -> Chart | None:
    """A row for each event and place: a dot at the effect, a bar over its 95 % interval if there is one."""
    known = {event.event: event for event in scene.events}
    rows = [row for row in answer.rows if row["effect"] is not None and row["event"] in known]
    if not rows:
        return None
    rows = sorted(rows, key=lambda row: -abs(row["effect"]))[:MOST]
    rows.sort(key=lambda row: (known[row["event"]].starts_at, row["zone"] or ""))
    intervals = []
    for row in rows:
        event = known[row["event"]]
        name = f"{words.moment(event.starts_at, scene.time_zone)}  {event.title}"
        intervals.append(Interval(name, row["effect"], row["low"], row["high"]))
    return draw_intervals(intervals, words.unit_of_difference(scene.unit(rows[0]["measure"])), frame)


def _is_told(row: Row, given: Mapping[str, str]) -> bool:
    """False where there is no effect, or one without a before that was matched at another time of day."""
    return row["effect"] is not None and not (
        AT_ONCE.items() <= given.items() and row["matched_by"] == "same zone, other open hours"
    )


def is_sure(row: Row) -> bool:
    """True where the interval of an effect leaves out nought."""
    return row["low"] is not None and bool(row["low"] > 0 or row["high"] < 0)


def tell_effects(ask: Ask, scene: Scene) -> Section:
    """The section on what events do to a place, with a choice of kind."""
    if not scene.events:
        return Section("effects", QUESTION, "There is no programme, so no event can be looked at.")
    responses: dict[str, list[Answer]] = {}
    for measure in sorted(scene.measures, key=scene.rank)[:_MOST_MEASURES]:
        given = {"measure": measure} | (AT_ONCE if scene.measures[measure].role == "crowd" else {})
        answer = ask("event_window.response", given)
        for kind in sorted({row["kind"] for row in answer.rows if row["kind"]}) if answer else ():
            rows = (
                [row for row in answer.rows if row["kind"] == kind and _is_told(row, given)] if answer else []
            )
            if answer is not None and rows:
                one = replace(answer, rows=rows, given=given | {"kind": kind})
                responses.setdefault(kind, []).append(one)
    if not responses:
        return Section("effects", QUESTION, "No event has enough heard minutes around it.")
    told: list[tuple[float, str, Figure]] = []
    for kind, answers in responses.items():
        answers.sort(key=lambda answer: -strength(answer))
        told.append(
            (
                strength(answers[0]),
                _told(answers[0], kind, scene),
                _course_or_effects(ask, kind, answers, scene),
            )
        )
    told.sort(key=lambda one: -one[0])
    return Section(
        "effects",
        QUESTION,
        told[0][1],
        figures=[figure for _, _, figure in told],
        choose="Show events of kind",
    )


def _course_or_effects(ask: Ask, kind: str, answers: Sequence[Answer], scene: Scene) -> Figure:
    name = _kind(kind)
    courses = [
        replace(
            whole,
            rows=[row for row in whole.rows if row["kind"] == kind],
            given={"measure": measure, "kind": kind},
        )
        for answer in answers
        if (measure := answer.given["measure"])
        and (whole := ask("event_window.average_course", {"measure": measure}))
    ]
    courses = [course for course in courses if course.rows]
    says = "; ".join(_size(answer, scene) for answer in answers)
    if not courses:
        return Figure(
            name,
            f"{name}: {says}.",
            answers[0],
            draw_effects,
            reading="Each dot is one event: its change from before to during, less the same change in "
            "matched hours without it. The bar is the 95\u00a0% interval; a hollow dot has none, or one "
            "that holds nought.",
        )
    events = max(row["events"] for row in courses[0].rows)
    return Figure(
        name,
        f"{name}, while it lasts against matched hours: {says}.",
        replace(courses[0], rows=[row for course in courses for row in course.rows]),
        draw_courses,
        reading=f"Lines: the mean course of {words.plural(events, 'event')} in minutes round the start, "
        "against their own time before; bands: 95 %.",
        rows=[row for answer in answers for row in answer.rows],
        columns=_COLUMNS,
        calls=[one.call for one in (*courses, *answers)],
    )


def strength(answer: Answer) -> float:
    """How far the surest effect is from 0, in the spread of matched windows; 0 where none is sure."""
    sure = [row for row in answer.rows if is_sure(row)]
    return max((min(abs(row["low"]), abs(row["high"])) / (row["spread"] or 1.0) for row in sure), default=0.0)


def _told(answer: Answer, kind: str, scene: Scene) -> str:
    return f"{_kind(kind)}: {_size(answer, scene)} while it lasts, against matched hours."


def _kind(kind: str) -> str:
    """What events of a kind are called at the beginning of a sentence."""
    named = words.capital(words.name(kind))
    return named if any(sign.isalpha() for sign in named) else f"Kind {named}"


def _size(answer: Answer, scene: Scene) -> str:
    measure = answer.given["measure"]
    effects = sorted(row["effect"] for row in answer.rows)
    judged = [row for row in answer.rows if row["low"] is not None]
    size = words.difference(effects[len(effects) // 2], scene.unit(measure))
    sure = (
        f"sure in {sum(map(is_sure, judged))} of {len(judged)}"
        if judged
        else "not judged: too few hours to match"
    )
    return f"{words.inner(scene.measure_title(measure))} {size} ({sure})"
