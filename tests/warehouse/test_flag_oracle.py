"""Flags of whole afternoons, reading by reading, beside the rules written down once more in plain Python."""

from collections import defaultdict
from collections.abc import Iterator, Sequence
from datetime import datetime, timedelta
from math import ceil
from random import Random
from statistics import median
from typing import Any, NamedTuple

import pytest

PERIOD_S = 20.0
MINUTE = timedelta(minutes=1)
SEVERITY = {"span": 4, "spike": 4, "usual": 3, "step": 3, "flat": 3, "odd": 3}
ORDER = ("span", "usual", "spike", "step", "flat", "odd")


class Burst(NamedTuple):
    """One burst of a mote with its readings by measure."""

    burst: int
    seq: int | None
    at: datetime
    readings: dict[str, float]


@pytest.mark.parametrize("seed", range(6))
def test_every_flag_is_what_the_rules_say(build: Any, seed: int) -> None:
    chance = Random(seed)
    hall = build(
        *(build.mote(f"M{number}", "hall" if number < 7 else "pit") for number in range(1, 9)),
        placements=[build.placement("M6", chance.uniform(3000, 5000), "pit")],
        measures=(
            build.measure(
                "temperature", span_low=-40, span_high=85, usual_high=40, max_step=3, flat_after_min=4
            ),
            build.measure("humidity", span_low=0, span_high=100, max_step=8),
            build.measure("sound", "decibel", max_step=20, flat_after_min=2),
            build.measure("steps", "count", span_low=0),
        ),
    )
    hearings = sorted(afternoon(hall, chance), key=lambda hearing: hearing["received_at"])
    runs = chance.choice([1, 3, 8])
    for run in range(runs):
        hall.load(hearings[run * len(hearings) // runs : (run + 1) * len(hearings) // runs])
    found = {
        (burst, measure): (flag, reason)
        for burst, measure, flag, reason in hall.rows("select burst, measure, flag, reason from reading")
    }
    expected = flags(hall)
    assert found.keys() == expected.keys()
    assert {key: (found[key], expected[key]) for key in found if found[key] != expected[key]} == {}
    reasons = {name for _, reason in found.values() if reason for name in reason.split("+")}
    assert reasons >= {"span", "spike", "step", "flat", "odd"}


def afternoon(hall: Any, chance: Random, hours: float = 2.0) -> Iterator[dict[str, Any]]:
    """Motes of a hall: some bursts and readings are lost, some wrong; two go their own way twice over."""
    for number in range(1, 9):
        begins = chance.randrange(150, 250)
        strays = range(begins, begins + 90) if number in (2, 3) else range(0)
        stuck = range(chance.randrange(60, 300), 330)
        seq, lost, warmth = 0, 0, 20.0 + 2 * number
        for turn in range(int(hours * 3600 / PERIOD_S)):
            seq = 0 if chance.random() < 0.003 else seq + 1
            warmth += chance.gauss(0, 0.1)
            lost = lost - 1 if lost else chance.choice([1, 2, 5, 40]) * (chance.random() < 0.03)
            if lost:
                continue
            away = turn in strays
            readings = {
                "temperature": 21.5 if number == 5 and turn in stuck else round(warmth + 6 * away, 2),
                "humidity": round(50 + 12 * away + chance.gauss(0, 0.5), 1),
                "sound": round(50 + chance.gauss(0, 3)),
                "steps": float(chance.choice([0, 0, 1, 3, -1] if chance.random() < 0.05 else [0, 2])),
            }
            for measure in ("temperature", "humidity", "sound"):
                if chance.random() < 0.02:
                    readings[measure] += chance.choice([-1, 1]) * chance.choice([4, 9, 25, 200])
            kept = {measure: value for measure, value in readings.items() if chance.random() < 0.95}
            yield hall.heard(seq, turn * PERIOD_S + 0.1 + number / 10, f"M{number}", **kept)


def flags(hall: Any) -> dict[tuple[int, str], tuple[int, str | None]]:
    """Flag and reasons of every reading by burst and measure."""
    courses = read_courses(hall)
    register = hall.campaign.register.measures
    failed: dict[tuple[int, str], set[str]] = {}
    evaluated = set()
    for course in courses.values():
        for measure in register:
            for place, burst in enumerate(course):
                if measure.measure in burst.readings:
                    names, is_evaluated = alone(course, place, measure)
                    failed[burst.burst, measure.measure] = names
                    if is_evaluated:
                        evaluated.add((burst.burst, measure.measure))
            if measure.flat_after_min is not None:
                for burst_id in flat(course, measure):
                    failed[burst_id, measure.measure].add("flat")
    for measure in register:
        if measure.max_step is not None and measure.kind != "count":
            for burst_id in odd(hall, courses, measure, failed):
                failed[burst_id, measure.measure].add("odd")
    return {
        key: (
            max((SEVERITY[name] for name in names), default=1 if key in evaluated else 2),
            "+".join(name for name in ORDER if name in names) or None,
        )
        for key, names in failed.items()
    }


def read_courses(hall: Any) -> dict[str, list[Burst]]:
    """The bursts of each mote in the order of time."""
    readings: dict[int, dict[str, float]] = defaultdict(dict)
    for burst, measure, value in hall.rows("select burst, measure, value from reading"):
        readings[burst][measure] = value
    courses: dict[str, list[Burst]] = defaultdict(list)
    for mote, *burst in hall.rows(
        "select mote, burst, seq, sampled_at from burst order by sampled_at, burst"
    ):
        courses[mote].append(Burst._make([*burst, readings[burst[0]]]))
    return courses


def periods(one: Burst, other: Burst) -> int | None:
    """How many periods lie between two neighbours, where no more than four and no fewer than time needs."""
    by_time = max(1, ceil((other.at - one.at) / timedelta(seconds=PERIOD_S) - 0.5))
    counted = by_time if one.seq is None or other.seq is None else other.seq - one.seq
    return counted if by_time <= counted <= 4 else None


def neighbour(course: Sequence[Burst], place: int, measure: Any) -> tuple[float, float] | None:
    """The value at this place and the most by which the next may differ, None where that is not known."""
    if not 0 <= place < len(course) - 1:
        return None
    between = periods(course[place], course[place + 1])
    value = course[place].readings.get(measure.measure)
    return None if between is None or value is None else (value, between * measure.max_step)


def is_spike(before: float, value: float, after: float, up: float, down: float) -> bool:
    return (value - before) * (after - value) < 0 and abs(value - before) > up and abs(value - after) > down


def alone(course: Sequence[Burst], place: int, measure: Any) -> tuple[set[str], bool]:
    """What the tests on one reading and its neighbours find, and whether any of them looked at it."""
    value = course[place].readings[measure.measure]
    bounds = (measure.span_low, measure.span_high, measure.usual_low, measure.usual_high)
    names = set()
    if beyond(value, *bounds[:2]):
        names.add("span")
    if beyond(value, *bounds[2:]):
        names.add("usual")
    is_looked_at = any(bound is not None for bound in (*bounds, measure.flat_after_min))
    if measure.max_step is None:
        return names, is_looked_at
    before, after = neighbour(course, place - 1, measure), None
    if place + 1 < len(course):
        between = periods(course[place], course[place + 1])
        following = course[place + 1].readings.get(measure.measure)
        if between is not None and following is not None:
            after = (following, between * measure.max_step)
    is_next = before is not None and periods(course[place - 1], course[place]) == 1
    if before and after and is_spike(before[0], value, after[0], before[1], after[1]):
        names.add("spike")
    elif before and is_next and abs(value - before[0]) > measure.max_step:
        earlier = neighbour(course, place - 2, measure)
        if not (earlier and is_spike(earlier[0], before[0], value, earlier[1], measure.max_step)):
            names.add("step")
    return names, is_looked_at or (before is not None and (is_next or after is not None))


def beyond(value: float, low: float | None, high: float | None) -> bool:
    return (low is not None and value < low) or (high is not None and value > high)


def flat(course: Sequence[Burst], measure: Any) -> Iterator[int]:
    """The bursts of runs of one value that last too long."""
    after = timedelta(minutes=measure.flat_after_min)
    longest_gap = max(after, 10 * timedelta(seconds=PERIOD_S))
    run: list[Burst] = []
    for burst in [*(burst for burst in course if measure.measure in burst.readings), None]:
        goes_on = (
            burst is not None
            and bool(run)
            and burst.readings[measure.measure] == run[-1].readings[measure.measure]
            and burst.at - run[-1].at <= longest_gap
        )
        if not goes_on:
            if run and run[-1].at - run[0].at > after:
                yield from (one.burst for one in run)
            run = []
        if burst is not None:
            run.append(burst)


def odd(
    hall: Any,
    courses: dict[str, list[Burst]],
    measure: Any,
    failed: dict[tuple[int, str], set[str]],
) -> Iterator[int]:
    """The bursts of ten minutes in which a mote changed otherwise than its zone."""
    middles: dict[str, dict[datetime, float]] = {}
    for mote, course in courses.items():
        good = defaultdict(list)
        for burst in course:
            if measure.measure in burst.readings and not failed[burst.burst, measure.measure]:
                good[ten_minutes(burst.at)].append(burst.readings[measure.measure])
        middles[mote] = {bucket: median(values) for bucket, values in good.items()}
    places = hall.rows("select mote, zone, from_at, to_at from mote_place where zone is not null")
    changes: dict[tuple[str, datetime], dict[str, float]] = defaultdict(dict)
    for mote, zone, from_at, to_at in places:
        for bucket, value in middles.get(mote, {}).items():
            before = [middles[mote].get(bucket - back * MINUTE) for back in (10, 20, 30)]
            known = [one for one in before if one is not None]
            stood = from_at <= bucket - 30 * MINUTE and to_at >= bucket + 10 * MINUTE
            if len(known) >= 2 and stood:
                changes[zone, bucket][mote] = value - median(known)
    for (_, bucket), of_motes in changes.items():
        if len(of_motes) < 4:
            continue
        middle = median(of_motes.values())
        spread = median(abs(change - middle) for change in of_motes.values())
        for mote, change in of_motes.items():
            if abs(change - middle) > max(measure.max_step, 6 * 1.4826 * spread):
                for burst in courses[mote]:
                    if ten_minutes(burst.at) == bucket and measure.measure in burst.readings:
                        yield burst.burst


def ten_minutes(at: datetime) -> datetime:
    return at.replace(minute=at.minute // 10 * 10, second=0, microsecond=0)
