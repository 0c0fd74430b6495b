"""The story of a campaign: which questions the page answers, in which order, and how it begins."""

from motelake.page import words
from motelake.page.answers import Ask
from motelake.page.changes import tell_changes
from motelake.page.crowd import tell_crowd
from motelake.page.doubts import tell_doubts
from motelake.page.effects import tell_effects
from motelake.page.figures import Section, Story
from motelake.page.fleet import tell_fleet
from motelake.page.pairs import tell_pairs
from motelake.page.scene import Scene
from motelake.page.strips import tell_strips

CAUTION = (
    "All figures are relative changes of uncalibrated motes. They tell where to look, not what is safe: no "
    "use for safety, compliance, occupancy limits or evacuation, where local codes and licensed practice "
    "decide."
)


def tell(ask: Ask, scene: Scene) -> Story:
    """The whole story; a campaign without data gets one that says so."""
    sections: list[Section] = []
    if scene.data_from is not None:
        sections = [
            tell_changes(ask, scene),
            tell_crowd(ask, scene),
            tell_strips(ask, scene),
            tell_pairs(ask, scene),
            tell_effects(ask, scene),
        ]
    sections += [tell_fleet(ask, scene), tell_doubts(ask, scene)]
    return Story(
        scene.title,
        f"{words.span(scene.starts_at, scene.ends_at, scene.time_zone)}, on the clocks of "
        f"{scene.time_zone.key}",
        [_opening(scene), CAUTION],
        sections,
        _facts(scene),
    )


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
