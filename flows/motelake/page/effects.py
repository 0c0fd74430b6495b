"""What the events of a kind did to a measure: each event's effect with its interval, against matched windows."""

from collections.abc import Sequence

from motelake.page import words
from motelake.page.answers import Answer, Ask, Row
from motelake.page.drawing import Chart, Frame
from motelake.page.figures import Figure, Section
from motelake.page.intervals import MOST, Interval, draw_intervals
from motelake.page.scene import Scene

_MOST_MEASURES = 4


def draw_effects(answer: Answer, scene: Scene, frame: Frame) -> Chart | None:
    """A row for each event and place: a dot at the effect, a bar over its 95 % interval where there is one."""
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
    return draw_intervals(intervals, words.unit(scene.unit(rows[0]["measure"])), frame)


def is_sure(row: Row) -> bool:
    """True where the interval of an effect leaves out nought."""
    return row["low"] is not None and bool(row["low"] > 0 or row["high"] < 0)


def tell_effects(ask: Ask, scene: Scene) -> Section:
    """The section on what events do to a place, with a choice of kind."""
    question = "What does an event of a kind do to its place?"
    if not scene.events:
        return Section("effects", question, "There is no programme, so no event can be looked at.")
    figures: list[Figure] = []
    heads: list[tuple[float, str]] = []
    for measure in _telling(scene):
        answer = ask("event_window.response", {"measure": measure})
        if answer is None:
            continue
        kinds = sorted({row["kind"] for row in answer.rows if row["kind"] and row["effect"] is not None})
        for kind in kinds:
            rows = [row for row in answer.rows if row["kind"] == kind]
            one = Answer(
                answer.view,
                rows,
                dict(answer.given) | {"kind": kind},
                answer.units,
                answer.question,
                answer.misleads,
            )
            sure = [row for row in rows if is_sure(row)]
            told = _told(rows, sure, kind, scene)
            figures.append(
                Figure(
                    f"{words.capital(words.name(kind))}: {words.inner(scene.measure_title(measure))}",
                    told,
                    one,
                    draw_effects,
                    reading="Each dot is one event: its change from before to during, less the same change in matched "
                    "hours without it. The bar is the 95 % interval; a hollow dot has none, or one that holds nought.",
                    columns=("event", "zone", "before", "during", "after", "matched", "effect", "low", "high", "p",
                             "matched_by", "matched_n", "note"),
                )
            )  # fmt: skip
            strength = max(
                (min(abs(row["low"]), abs(row["high"])) / (row["spread"] or 1) for row in sure), default=0.0
            )
            heads.append((strength, told))
    if not figures:
        return Section("effects", question, "No event has enough heard minutes around it.")
    order = sorted(range(len(figures)), key=lambda place: -heads[place][0])
    return Section(
        "effects",
        question,
        heads[order[0]][1],
        figures=[figures[place] for place in order],
        choose="Show the kind and measure",
    )


def _telling(scene: Scene) -> list[str]:
    roles = ("crowd", "sound", "temperature", "relative_humidity", "light")
    with_role = {
        measure.role: measure.measure for measure in scene.measures.values() if measure.role in roles
    }
    chosen = [with_role[role] for role in roles if role in with_role]
    others = [measure for measure in scene.measures if measure not in chosen]
    return [*chosen, *others][:_MOST_MEASURES]


def _told(rows: Sequence[Row], sure: Sequence[Row], kind: str, scene: Scene) -> str:
    measure = rows[0]["measure"]
    title = words.inner(scene.measure_title(measure))
    judged = [row for row in rows if row["low"] is not None]
    known = [row["effect"] for row in rows if row["effect"] is not None]
    middle = sorted(known)[len(known) // 2]
    size = words.with_unit(words.signed(middle), scene.unit(measure))
    of = (
        f"{len(sure)} of {words.plural(len(judged), 'event')} that can be judged"
        if judged
        else "none can be judged"
    )
    return f"{words.capital(words.name(kind))}: {title} {size} while it lasts, against matched hours; sure in {of}."
