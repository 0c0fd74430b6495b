"""The warehouse is a function of what was delivered and registered, not of how and when it came."""

import random
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from tests.laws.conftest import Site

    MakeSite = Callable[..., Site]
    Invent = Callable[[int], list[str]]

MOTES, MEASURES = "register/motes.csv", "register/measures.csv"
PLACEMENTS = "register/placements.csv"


def _scatter(lines: Sequence[str], chance: random.Random) -> list[list[str]]:
    """The lines over one to nine objects, either in stretches or shuffled, here and there one twice."""
    lines = list(lines)
    if chance.random() < 0.5:
        chance.shuffle(lines)
    cuts = sorted(chance.sample(range(1, len(lines)), chance.randrange(9)))
    objects = [lines[start:end] for start, end in zip([0, *cuts], [*cuts, len(lines)], strict=True)]
    objects += [list(one) for one in objects if chance.random() < 0.2]
    chance.shuffle(objects)
    return objects


def _deliver_in_runs(site: "Site", objects: Sequence[Sequence[str]], chance: random.Random) -> None:
    runs = chance.randrange(1, 4)
    for turn in range(runs):
        for number, lines in enumerate(objects[turn::runs]):
            site.deliver(f"{chance.randrange(10**6):06d}-{turn}-{number}.jsonl", lines)
        site.run()


@pytest.mark.parametrize("seed", range(10))
def test_splits_orders_batches_duplicates_and_runs_do_not_show(
    make_site: "MakeSite", invent: "Invent", seed: int
) -> None:
    lines, chance = invent(seed), random.Random(seed)
    whole = make_site("whole")
    whole.deliver("all.jsonl", lines)
    whole.run()
    plan = whole.files["campaign.toml"].replace("batch_objects = 256", f"batch_objects = {1 + seed % 3}")
    parted = make_site("parted", **{"campaign.toml": plan})
    _deliver_in_runs(parted, _scatter(lines, chance), chance)
    assert parted.fingerprint() == whole.fingerprint()
    # A line repeated is a duplicate, so what is staged does not grow.
    assert parted.counts()[1] == whole.counts()[1]


# What was wrong at first: file, the right text, the wrong one.
MISTAKES = {
    "a mote not registered yet": [
        (MOTES, "M3,south,temperature+sound+footsteps,pit,shed,,,battery,,,,\n", "")
    ],
    "a measure not registered yet": [
        (MEASURES, "footsteps,Footsteps,count,count,crowd,0,,,,,\n", ""),
        (MOTES, "+footsteps", ""),
    ],
    "a measure of another name": [(MEASURES, "\nsound,", "\nnoise,"), (MOTES, "+sound", "+noise")],
    "a span too narrow": [(MEASURES, "temperature,-40,85,5,35", "temperature,20,22,20.5,21.5")],
    "a step too small": [(MEASURES, ",2,25", ",0.05,5")],
    "a kind mistaken": [(MEASURES, "count,total,,", "count,level,,")],
    "a unit mistaken": [(MEASURES, "Air temperature,Cel", "Air temperature,K")],
    "a move noted late": [(PLACEMENTS, "M2,2031-05-09T23:40:30Z", "M2,2031-05-10T00:20:00Z")],
    "a move not noted": [(PLACEMENTS, "M2,2031-05-09T23:40:30Z,pit,shed,,,moved,\n", "")],
    "a mote in the wrong zone": [
        (MOTES, "M1,north,temperature+sound,pit,hall", "M1,north,temperature+sound,pit,shed")
    ],
    "a period of its own forgotten": [(MOTES, "battery,,,,30", "battery,,,,")],
    "a drift too small": [("campaign.toml", "burst_period_s = 20", "burst_period_s = 20\ndrift_ppm = 10")],
    "an end too early": [("campaign.toml", "ends_at = 2031-05-10T04", "ends_at = 2031-05-09T22:10:00Z #")],
}


@pytest.mark.parametrize("mistake", MISTAKES)
def test_a_register_corrected_later_gives_what_the_right_one_would_have(
    make_site: "MakeSite", invent: "Invent", mistake: str
) -> None:
    seed = list(MISTAKES).index(mistake)
    lines, chance = invent(100 + seed), random.Random(seed)
    whole = make_site("whole")
    whole.deliver("all.jsonl", lines)
    whole.run()
    right = dict(whole.files)
    wrong = dict(right)
    for file, right_text, wrong_text in MISTAKES[mistake]:
        assert right_text in wrong[file]
        wrong[file] = wrong[file].replace(right_text, wrong_text)
    mended = make_site("mended", **wrong)
    objects = _scatter(lines, chance)
    half = len(objects) // 2
    for number, some in enumerate(objects[:half]):
        mended.deliver(f"{number}.jsonl", some)
    mended.run()
    if chance.random() < 0.5:
        # Corrected together with a delivery; else by itself, after all of them.
        mended.write_files(right)
    for number, some in enumerate(objects[half:]):
        mended.deliver(f"more-{number}.jsonl", some)
    mended.run()
    mended.write_files(right)
    mended.run()
    assert mended.fingerprint() == whole.fingerprint()
    assert mended.counts()[1] == whole.counts()[1]


def test_a_run_with_nothing_new_changes_nothing(make_site: "MakeSite", invent: "Invent") -> None:
    site = make_site("site")
    site.deliver("all.jsonl", invent(7))
    site.run()
    before = site.fingerprint()
    site.run()
    assert site.fingerprint() == before
