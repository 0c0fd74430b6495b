"""What was planted is found, with its sign, time and place, and what only looks like it is not."""

from collections.abc import Callable
from datetime import timedelta
from typing import TYPE_CHECKING

import numpy as np
import pytest
from numpy.typing import NDArray

if TYPE_CHECKING:
    from tests.outside.conftest import House

Series = NDArray[np.float64]
Remembering = Callable[[np.random.Generator, float, int], Series]


def later(values: Series, minutes: int) -> Series:
    """The series so many minutes later; nothing before it begins."""
    return np.concatenate([np.zeros(minutes), values[: len(values) - minutes]])


@pytest.mark.parametrize(("lag", "sign"), [(13, -1), (-7, 1), (0, 1)])
def test_a_planted_lag_is_found_within_a_minute_and_with_its_sign(
    house: "House", remembering: Remembering, lag: int, sign: int
) -> None:
    random = np.random.default_rng(5)
    cause = remembering(random, 0.9, 2880)
    echo = sign * later(cause, abs(lag)) + remembering(random, 0.9, 2880)
    for measure, values in zip("ab" if lag >= 0 else "ba", (cause, echo), strict=True):
        values[random.random(2880) < 0.2] = np.nan
        house.put("pit", measure, values)
    house.furnish()
    ((found, r, p_scan),) = house.ask(
        "select lag_min, r, p_scan from correlation.lagged(measure_a := 'a', measure_b := 'b') where is_best"
    )
    assert abs(found - lag) <= 1
    assert np.sign(r) == sign
    assert p_scan < 0.001


def test_two_series_that_share_only_the_day_come_out_as_nothing(
    house: "House", remembering: Remembering
) -> None:
    # Four days, two noisy copies of one sine: r is 2/3 by construction, and nothing once the cycle is off.
    random = np.random.default_rng(6)
    day = np.sqrt(2) * np.sin(2 * np.pi * np.arange(4 * 1440) / 1440)
    for measure in "ab":
        house.put("pit", measure, day + np.sqrt(0.5) * remembering(random, 0.5, 4 * 1440))
    house.furnish()
    question = (
        "select r, p, p_scan from correlation.lagged(measure_a := 'a', measure_b := 'b',"
        " max_lag_min := 10, remove_cycle := ?) where lag_min = 0 or is_best"
    )
    with_cycle = house.ask(question, [False])
    without = house.ask(question, [True])
    assert with_cycle[0][0] == pytest.approx(2 / 3, abs=0.05)
    assert all(abs(r) < 0.1 and p_scan > 0.05 for r, _, p_scan in without)
    assert house.ask("select min(q_bh) > 0.05 from correlation.screen()") == [(True,)]


def test_screening_finds_planted_pairs_with_their_lag(house: "House", remembering: Remembering) -> None:
    random = np.random.default_rng(9)
    for zone in range(20):
        first = remembering(random, 0.9, 2880)
        house.put(f"zone-{zone}", "a", first)
        second = remembering(random, 0.9, 2880)
        house.put(f"zone-{zone}", "b", 0.8 * later(first, 20) + 0.6 * second if zone < 6 else second)
    house.furnish()
    found = house.ask("select place_a, lag_min from correlation.screen() where q_bh <= 0.05")
    assert {(f"zone-{zone}", 20) for zone in range(6)} <= set(found)
    assert len(found) <= 7


def test_a_planted_shift_is_found_within_five_minutes_and_calm_zones_show_none(
    house: "House", remembering: Remembering
) -> None:
    random = np.random.default_rng(7)
    planted = {f"zone-{zone}": (500 + 7 * zone, -8 if zone % 2 else 8) for zone in range(10)}
    for zone in range(30):
        values = remembering(random, 0.95, 1440)
        at, size = planted.get(f"zone-{zone}", (0, 0))
        values[at:] += size
        house.put(f"zone-{zone}", "a", values)
    house.furnish()
    rows = house.ask(
        'select zone, "at", size from change.shifts()'
        " qualify row_number() over (partition by zone order by abs(score) desc) = 1"
    )
    assert {zone for zone, _, _ in rows} <= set(planted)
    assert len(rows) >= 9
    for zone, at, size in rows:
        minute, planted_size = planted[zone]
        assert abs((at - house.starts_at) / timedelta(minutes=1) - minute) <= 5
        assert size == pytest.approx(planted_size, abs=2.5)


def test_a_mote_with_an_offset_that_drops_out_changes_nothing(
    house: "House", remembering: Remembering
) -> None:
    random = np.random.default_rng(8)
    field = 0.1 * remembering(random, 0.5, 2880)
    for number, offset in enumerate([0.0, 0.0, 9.0]):
        values = field + offset + 0.05 * random.standard_normal(2880)
        if offset:
            values[1700:] = np.nan
        house.put("pit", "a", values, mote=f"M{number}")
    house.furnish()
    house.warehouse.execute("update campaign set baseline_from = '02:00', baseline_to = '05:00'")
    # The mean of the motes as they are falls by three degrees.
    ((fall,),) = house.ask(
        "select avg(value) filter (minute_at >= $1) - avg(value) filter (minute_at < $1) from zone_minute",
        [house.starts_at + timedelta(minutes=1700)],
    )
    assert fall == pytest.approx(-3, abs=0.1)
    assert house.ask("select count(*) from change.shifts(confidence_least := 0.9)") == [(0,)]
    assert house.ask("select max(abs(change)) < 0.2 from change.since_baseline()") == [(True,)]
    assert house.ask("select max(abs(change)) < 0.2 from change.day_over_day()") == [(True,)]
    ((change,),) = house.ask(
        "select change from change.between(from_a := '2031-05-10 03:00Z', to_a := '2031-05-10 04:00Z',"
        " from_b := '2031-05-10 05:00Z', to_b := '2031-05-10 06:00Z')"
    )
    assert abs(change) < 0.2


def test_a_light_that_is_switched_on_moved_most_though_it_never_flickers(
    house: "House", remembering: Remembering
) -> None:
    random = np.random.default_rng(4)
    house.put("pit", "light", np.repeat([0.0, 200.0], [180, 60]))
    house.put("pit", "sound", remembering(random, 0.9, 240) + np.repeat([0.0, 3.0], [180, 60]))
    house.put("pit", "warmth", np.full(240, 21.5))
    house.furnish()
    rows = house.ask("select measure, change from change.between()")
    assert rows[0] == ("light", 200)
    assert rows[-1] == ("warmth", 0)


def test_a_measure_that_stands_still_is_told_and_never_nan(house: "House", remembering: Remembering) -> None:
    random = np.random.default_rng(3)
    house.put("pit", "a", remembering(random, 0.9, 2880))
    house.put("pit", "b", np.full(2880, 21.5))
    house.put("pit", "c", np.full(2880, 1e9) + np.arange(2880) * 1e-3)
    house.furnish()
    for method in ("pearson", "spearman"):
        for other in "bc":
            rows = house.ask(
                "select r, low, high, p, p_scan, note from correlation.lagged("
                "measure_a := 'a', measure_b := ?, max_lag_min := 5, remove_cycle := false, method := ?)",
                [other, method],
            )
            figures = [value for row in rows for value in row[:5] if value is not None]
            assert not any(np.isnan(value) or abs(value) > 1 for value in figures)
            assert len(rows) == 11
            if other == "b":
                assert figures == []
                assert {row[5] for row in rows} == {"one of the two does not change"}
    for question in ("correlation.partial(measure_a := 'a', measure_b := 'b')", "correlation.screen()"):
        answer = house.ask(f"select * from {question}")
        assert not any(isinstance(value, float) and np.isnan(value) for row in answer for value in row)


def test_an_hour_that_stands_still_has_an_interval_all_the_same(
    house: "House", remembering: Remembering
) -> None:
    # One person comes into an empty room and stays: neither the night nor the hours after scatter.
    random = np.random.default_rng(12)
    house.put("room", "people", np.repeat([0.0, 1.0], [600, 840]))
    house.put("hall", "people", np.round(5 + remembering(random, 0.9, 1440)))
    house.put("shed", "people", np.zeros(1440))
    house.furnish()
    house.warehouse.execute("update campaign set baseline_from = '02:00', baseline_to = '05:00'")
    rows = house.ask(
        "select change, low, high from change.since_baseline() where zone = 'room' and \"at\" > ?",
        [house.starts_at + timedelta(hours=10)],
    )
    assert len(rows) == 13
    assert all(low < change == 1 < high for change, low, high in rows)
