"""How often the statistics cry wolf on series that have nothing to do with each other.

Series are first-order autoregressive, of memory 0 to 0.95, made with fixed seeds, whole or with a fifth of
their minutes missing. The naive test, which takes minutes for independent, finds 65 % of such pairs
"significant" at memory 0.95. MOTELAKE_SERIES=1500 makes a long run of it (25 minutes of CPU).
"""

import os
from collections.abc import Callable
from datetime import timedelta
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy import stats

if TYPE_CHECKING:
    from tests.outside.conftest import House

Series = NDArray[np.float64]
Remembering = Callable[[np.random.Generator, float, int], Series]
SERIES = int(os.environ.get("MOTELAKE_SERIES", "16"))
MEMORIES = (0.0, 0.5, 0.9, 0.95)
LENGTH = 360


def is_rate(found: int, of: int, rate: float, leeway: float = 0.015) -> bool:
    """Whether so many finds do not contradict (at 0.1 %) a true rate within leeway of the one stated."""
    low = stats.binom.ppf(0.0005, of, max(0, rate - leeway))
    high = stats.binom.ppf(0.9995, of, rate + leeway)
    return bool(low <= found <= high)


def lags_of(house: "House", xs: Series, ys: Series) -> list[tuple[float, float]]:
    """p and p_scan at each of 61 lags."""
    there = [~np.isnan(values) for values in (xs, ys)]
    given: list[Any] = []
    for values, is_there in zip((xs, ys), there, strict=True):
        given += [np.flatnonzero(is_there).tolist(), values[is_there].tolist()]
    return [
        (p, p_scan)
        for p, p_scan in house.ask(
            "select p, p_scan from statistics.cross_correlation("
            "minutes_a := ?, values_a := ?, minutes_b := ?, values_b := ?) order by lag_min",
            given,
        )
    ]


@pytest.mark.parametrize("missing", [0.0, 0.2])
def test_independent_series_are_called_related_as_often_as_p_says(
    house: "House", remembering: Remembering, missing: float
) -> None:
    at_one_lag, over_all = [], []
    for memory in MEMORIES:
        random = np.random.default_rng([20310509, int(100 * memory), int(10 * missing)])
        found_at_one_lag = found_over_all = 0
        for _ in range(SERIES):
            xs, ys = (remembering(random, memory, LENGTH) for _ in "ab")
            for values in (xs, ys):
                values[random.random(LENGTH) < missing] = np.nan
            lags = lags_of(house, xs, ys)
            assert all(p_scan >= p for p, p_scan in lags)
            at_one_lag.append(lags[30][0])
            over_all.append(min(p_scan for _, p_scan in lags))
            found_at_one_lag += at_one_lag[-1] < 0.05
            found_over_all += over_all[-1] < 0.05
        assert is_rate(found_at_one_lag, SERIES, 0.05), (memory, found_at_one_lag)
        assert is_rate(found_over_all, SERIES, 0.05), (memory, found_over_all)
    # Whole distributions show more than their tails do with few series: p is as likely anywhere in 0 to 1.
    for ps in (at_one_lag, over_all):
        for share in (0.05, 0.25, 0.5):
            assert is_rate(sum(p < share for p in ps), len(ps), share, leeway=0.025), (share, ps)


def test_lagged_asks_for_the_same_figures(house: "House", remembering: Remembering) -> None:
    random = np.random.default_rng(1)
    series = [remembering(random, 0.9, LENGTH) for _ in "ab"]
    for measure, values in zip("ab", series, strict=True):
        values[random.random(LENGTH) < 0.2] = np.nan
        house.put("pit", measure, values)
    house.furnish()
    answer = house.ask("select p, p_scan from correlation.lagged(measure_a := 'a', measure_b := 'b')")
    assert [p for p, _ in answer] == pytest.approx([p for p, _ in lags_of(house, *series)], rel=1e-6)
    assert [p for _, p in answer] == pytest.approx([p for _, p in lags_of(house, *series)], rel=1e-6)


def test_screening_200_independent_series_finds_nothing(house: "House", remembering: Remembering) -> None:
    random = np.random.default_rng(1)
    for zone in range(40):
        for measure in "abcde":
            house.put(f"zone-{zone}", measure, remembering(random, 0.9, 2880))
    house.furnish()
    rows = house.ask("select p, q_bh from correlation.screen()")
    assert len(rows) > 400
    assert 0.02 < np.mean([p < 0.05 for p, _ in rows]) < 0.08
    assert not [q for _, q in rows if q <= 0.05]


def test_zones_that_never_shift_show_shifts_no_oftener_than_stated(
    house: "House", remembering: Remembering
) -> None:
    # In a long run 1.0 to 1.5 % of such series showed one at confidence 0.95, and 0.1 to 0.5 % at 0.99.
    random = np.random.default_rng(2)
    for zone in range(200):
        house.put(f"zone-{zone}", "a", remembering(random, (0.0, 0.5, 0.9, 0.99)[zone % 4], 1440))
    house.furnish()
    for confidence in (0.95, 0.99):
        found = house.ask("select distinct zone from change.shifts(confidence_least := ?)", [confidence])
        assert len(found) <= stats.binom.ppf(0.9995, 200, 1 - confidence)


@pytest.mark.parametrize("memory", [0.0, 0.9, 0.99])
@pytest.mark.parametrize("hours", [1, 8])
def test_windows_between_which_nothing_changed_rarely_differ(
    house: "House", remembering: Remembering, memory: float, hours: int
) -> None:
    random = np.random.default_rng([hours, int(100 * memory)])
    for zone in range(200):
        house.put(f"zone-{zone}", "a", remembering(random, memory, 1440))
    house.furnish()
    middle = house.starts_at + timedelta(hours=12)
    ps = house.ask(
        "select p from change.between(from_a := ?, to_a := ?, from_b := ?, to_b := ?)",
        [middle - timedelta(hours=hours), middle, middle, middle + timedelta(hours=hours)],
    )
    assert sum(p < 0.05 for (p,) in ps) <= stats.binom.ppf(0.9995, 200, 0.06)


@pytest.mark.parametrize("memory", [0.0, 0.9, 0.95, 0.99, 0.999])
def test_hours_in_which_nothing_changed_rarely_differ_from_the_quiet_ones(
    house: "House", remembering: Remembering, memory: float
) -> None:
    random = np.random.default_rng(int(100 * memory))
    for zone in range(100):
        house.put(f"zone-{zone}", "a", remembering(random, memory, 1440))
    house.furnish()
    house.warehouse.execute("update campaign set baseline_from = '02:00', baseline_to = '05:00'")
    rows = house.ask(
        'select low > 0 or high < 0 from change.since_baseline() where "at" > ?',
        [house.starts_at + timedelta(hours=6)],
    )
    # Hours of a zone share their quiet hours, so that they are no more independent than zones are.
    assert len(rows) == 1700
    assert np.mean([is_told for (is_told,) in rows]) < 0.07


@pytest.mark.parametrize("days", [2, 4])
def test_events_that_do_nothing_are_rarely_said_to_do_something(
    house: "House", remembering: Remembering, days: int
) -> None:
    # Six zones share the hours of the day; talks stand in the programme, and nothing comes of them.
    random = np.random.default_rng(days)
    hours = 3 * np.sin(2 * np.pi * np.arange(days * 1440) / 1440)
    for zone in range(6):
        house.put(f"zone-{zone}", "a", hours + remembering(random, 0.95, days * 1440))
    slots = [(day, 540 + 120 * slot) for day in range(days) for slot in range(5)]
    for number, (day, minute) in enumerate(slots):
        for zone in random.permutation(6)[:3]:
            start = day * 1440 + minute + int(random.integers(0, 30))
            house.happen(f"E{number}-{zone}", f"zone-{zone}", start, start + 45)
    house.furnish()
    rows = house.ask(
        "select p, low > 0 or high < 0, matched_n, note from event_window.response(measure := 'a')"
    )
    assert len(rows) == 15 * days
    ps = [p for p, _, _, _ in rows if p is not None]
    told = [is_told for _, is_told, _, _ in rows if is_told is not None]
    for found, of in ((sum(p < 0.05 for p in ps), len(ps)), (sum(told), len(told))):
        assert of >= 10
        assert found <= stats.binom.ppf(0.9995, of, 0.05)
    assert all(note for p, _, _, note in rows if p is None)


def test_what_is_left_of_independent_series_is_called_related_as_often_as_p_says(
    house: "House", remembering: Remembering
) -> None:
    # A third series drives both, to either side; once it is taken off, nothing is left.
    names = [(memory, missing) for memory in MEMORIES for missing in (0.0, 0.2)]
    series = max(1, SERIES // 2)
    for memory, missing in names:
        random = np.random.default_rng([3, int(100 * memory), int(10 * missing)])
        for number in range(series):
            driver, *rest = (remembering(random, memory, LENGTH) for _ in "cab")
            for measure, values in zip("cab", (driver, rest[0] + driver, rest[1] - driver), strict=True):
                heard = np.where(random.random(LENGTH) < missing, np.nan, values)
                house.put(f"{memory}-{missing}-{number}", measure, heard)
    house.furnish()
    ps = {
        name: [
            house.ask(
                "select p from correlation.partial(measure_a := 'a', measure_b := 'b', given_1 := 'c',"
                " zone := ?, remove_cycle := false)",
                [f"{name[0]}-{name[1]}-{number}"],
            )[0][0]
            for number in range(series)
        ]
        for name in names
    }
    for name, found in ps.items():
        assert is_rate(sum(p < 0.05 for p in found), series, 0.05), name
    every = [p for found in ps.values() for p in found]
    for share in (0.05, 0.25, 0.5):
        assert is_rate(sum(p < share for p in every), len(every), share, leeway=0.025), share


@pytest.mark.parametrize("memory", MEMORIES)
@pytest.mark.parametrize("is_shared", [False, True])
def test_bands_round_events_that_do_nothing_leave_out_nothing_as_often_as_stated(
    house: "House", remembering: Remembering, memory: float, is_shared: bool
) -> None:
    # Forty kinds of eight events, each in two of six zones, which may hear the same venue. Spans of one kind
    # hang together: each kind counts by one span before its starts and one after.
    random = np.random.default_rng([4, int(100 * memory), is_shared])
    length, kinds = 4 * 1440, 40
    venue = remembering(random, memory, length)
    for zone in range(6):
        house.put(f"zone-{zone}", "a", remembering(random, memory, length) + is_shared * venue)
    for kind in range(kinds):
        for number in range(8):
            first, second, *_ = random.permutation(6)
            start = int(random.integers(60, length - 120))
            house.happen(
                f"E{kind}-{number}", f"zone-{first}+zone-{second}", start, start + 45, kind=f"kind-{kind}"
            )
    house.furnish()
    rows = house.ask(
        "select low > 0 or high < 0, events from event_window.average_course(measure := 'a')"
        " where offset_min in (-10, 60)"
    )
    assert [events for _, events in rows] == [8] * (2 * kinds)
    assert is_rate(sum(is_told for is_told, _ in rows), 2 * kinds, 0.05)
