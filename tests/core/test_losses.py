"""How long silence is chance: held against simulated fleets."""

import math
import random

import pytest

from motelake.core.losses import Losses

BURSTS_PER_DAY = 4320


def lose(bursts: int, begins: float, goes_on: float, chance: random.Random) -> list[int]:
    """The runs of lost bursts of one mote."""
    runs, run = [], 0
    for _ in range(bursts):
        if chance.random() < (goes_on if run else begins):
            run += 1
        elif run:
            runs.append(run)
            run = 0
    return runs


def counted(runs: list[int], bursts: int) -> Losses:
    losses = Losses()
    for _ in range(bursts - sum(runs) - len(runs)):
        losses = losses.seen(0)
    for run in runs:
        losses = losses.seen(run)
    return losses


@pytest.mark.parametrize(("begins", "goes_on"), [(0.05, 0.05), (0.017, 0.667), (0.01, 0.8)])
def test_the_chances_are_found_again(begins: float, goes_on: float) -> None:
    runs = lose(60_000, begins, goes_on, random.Random(1))
    losses = counted(runs, 60_000)
    assert losses.begins == pytest.approx(begins * (60_000 - sum(runs)) / 60_000, rel=0.1)
    assert losses.goes_on == pytest.approx(goes_on, abs=0.03)


def test_motes_that_went_silent_do_not_tell_of_chance() -> None:
    runs = lose(60_000, 0.017, 0.667, random.Random(2))
    honest, spoiled = counted(runs, 60_000), counted(runs + [3000] * 5, 75_000)
    assert spoiled.goes_on == pytest.approx(honest.goes_on, abs=0.02)


@pytest.mark.parametrize("goes_on", [0.05, 0.667])
def test_motes_alone_cry_as_rarely_as_was_asked(goes_on: float) -> None:
    """At a rate of 5 a day that can be counted: 200 motes over five days of losses in runs."""
    chance, motes, days = random.Random(3), 200, 5
    begins = 0.05 * (1 - goes_on) / 0.95
    each = [lose(days * BURSTS_PER_DAY, begins, goes_on, chance) for _ in range(motes)]
    losses = counted([run for runs in each for run in runs], motes * days * BURSTS_PER_DAY)
    periods = losses.periods_by_chance(1, motes, BURSTS_PER_DAY, per_day=5)
    cries = sum(run >= periods for runs in each for run in runs)
    assert cries / days <= 5 + 3 * math.sqrt(5 / days)
    shorter = sum(run >= periods - 2 for runs in each for run in runs)
    assert shorter / days > 5, "the bound is not far too long"


def test_larger_groups_need_less_time_and_more_groups_more() -> None:
    losses = counted(lose(60_000, 0.017, 0.667, random.Random(4)), 60_000)
    by_size = [losses.periods_by_chance(motes, 20, BURSTS_PER_DAY, 0.1) for motes in (1, 2, 3, 5, 25)]
    assert by_size == sorted(by_size, reverse=True)
    assert by_size[-1] <= 2
    assert losses.periods_by_chance(1, 500, BURSTS_PER_DAY, 0.1) > losses.periods_by_chance(
        1, 5, BURSTS_PER_DAY, 0.1
    )


def test_with_losses_that_come_alone_ten_periods_are_beyond_chance() -> None:
    """The rule for motes: at 5 % loss and 500 motes, ten periods are not reached by chance."""
    losses = counted(lose(100_000, 0.05, 0.05, random.Random(5)), 100_000)
    assert losses.periods_by_chance(1, 500, BURSTS_PER_DAY, 0.1) <= 10
