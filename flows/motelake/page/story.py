"""The story of a campaign: which questions the page answers, in which order, and how it begins."""

from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from queue import SimpleQueue

from motelake.errors import SurroundingsError
from motelake.page import changes, crowd, doubts, effects, fleet, pairs, strips, words
from motelake.page.answers import Ask
from motelake.page.figures import Section, Story
from motelake.page.scene import Scene

CAUTION = (
    "All figures are relative changes of uncalibrated motes. They tell where to look, not what is safe: no "
    "use for safety, compliance, occupancy limits or evacuation, where local codes and licensed practice "
    "decide."
)


@dataclass(frozen=True)
class Part:
    """A section before it is told, and the questions it rests on; some need readings, some say something
    without."""

    key: str
    question: str
    tell: Callable[[Ask, Scene], Section]
    asks: tuple[str, ...]
    needs_readings: bool = True


PARTS = (
    Part("changes", changes.QUESTION, changes.tell_changes, ("change.since_baseline",)),
    Part(
        "crowd", crowd.QUESTION, crowd.tell_crowd,
        ("flow.steps_by_level", "flow.share_of_venue", "flow.surges"),
    ),
    Part("strips", strips.QUESTION, strips.tell_strips, ("change.since_baseline",)),
    Part("pairs", pairs.QUESTION, pairs.tell_pairs, ("correlation.lagged",)),
    Part(
        "effects", effects.QUESTION, effects.tell_effects,
        ("event_window.response", "event_window.average_course"),
    ),
    Part(
        "fleet", fleet.QUESTION, fleet.tell_fleet,
        ("fleet.state", "fleet.misplaced", "fleet.silence"), needs_readings=False,
    ),
    Part(
        "doubts", doubts.QUESTION, doubts.tell_doubts,
        ("fleet.state", "fleet.misplaced", "fleet.clocks", "change.unexplained"), needs_readings=False,
    ),
)  # fmt: skip
# Others are not even prepared: to know all questions of the library costs half a second.
ASKED = tuple(sorted({view for part in PARTS for view in part.asks}))


def tell(asks: Sequence[Ask], scene: Scene, begin: Callable[[Section], None] = lambda section: None) -> Story:
    """The whole story; a campaign without data gets one that says so.

    As many sections are told at once as there are asks. begin is called with each section as soon as it is
    told, so that its pictures can be begun.
    """
    idle: SimpleQueue[Ask] = SimpleQueue()
    for ask in asks:
        idle.put(ask)

    def told(part: Part) -> Section:
        ask = idle.get()
        try:
            section = _told(part, ask, scene)
        finally:
            idle.put(ask)
        begin(section)
        return section

    parts = [part for part in PARTS if scene.data_from is not None or not part.needs_readings]
    with ThreadPoolExecutor(len(asks)) as pool:
        sections = list(pool.map(told, parts))
    return Story(
        scene.title,
        f"{words.span(scene.starts_at, scene.ends_at, scene.time_zone)}, on the clocks of "
        f"{scene.time_zone.key}",
        [*(section.lately for section in sections if section.lately), _opening(scene)],
        sections,
        CAUTION,
        _facts(scene),
    )


def _told(part: Part, ask: Ask, scene: Scene) -> Section:
    ask.missed.clear()
    try:
        section = part.tell(ask, scene)
    except SurroundingsError:
        raise
    # Whatever one part of the page breaks on, the others are worth having; what broke is told.
    except Exception as error:
        why = f"{type(error).__name__}: {error}"
        return Section(
            part.key, part.question, "This part of the page could not be made.", [why], failure=why
        )
    # What several sentences rest on is asked by each of them.
    missed = tuple(dict.fromkeys(ask.missed))
    if missed and not section.figures:
        section = replace(section, answer="There was no answer to this in time.", more=())
    return replace(section, missed=missed)


def _opening(scene: Scene) -> str:
    if scene.data_from is None or scene.data_to is None:
        return (
            "Nothing that counts has been heard yet. When bursts of registered motes have been delivered "
            "and taken in, their story stands here."
        )
    until = words.moment(scene.data_to, scene.time_zone)
    return (
        f"{words.plural(len(scene.zones), 'zone')} on {words.plural(len(scene.levels), 'storey')} listened "
        f"to by motes that measure {words.plural(len(scene.measures), 'thing')}; "
        f"{words.plural(len(scene.events), 'event')} in the programme; heard until {until}."
    )


def _facts(scene: Scene) -> dict[str, str]:
    facts = {
        "Times": f"on the clocks of {scene.time_zone.key}; the rows behind them are in UTC",
        "Numbers": "beside each picture stands the command that gives its rows, with this lake's place for "
        "LAKE",
    }
    if scene.snapshot:
        facts["Snapshot"] = scene.snapshot
    if scene.made_at:
        facts["Made"] = (
            f"{words.moment(scene.made_at, scene.time_zone)} {scene.made_at.astimezone(scene.time_zone):%Y}"
        )
    return facts
