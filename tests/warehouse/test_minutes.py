"""Minutes of motes and zones: what a mean is, what a count stands for, who is missing."""

from itertools import permutations
from math import log10
from typing import Any

import pytest

MINUTES = (
    "select minute(minute_at), value, covered_s, n from mote_minute "
    "where measure = '{}' and value is not null order by mote, minute_at"
)


def minutes(hall: Any, measure: str) -> dict[int, tuple[Any, ...]]:
    return {
        minute: (value, covered_s, n) for minute, value, covered_s, n in hall.rows(MINUTES.format(measure))
    }


def zone(hall: Any, measure: str, minute: int = 1) -> Any:
    found = hall.rows(
        "select value, motes, motes_expected from zone_minute "
        f"where measure = '{measure}' and zone = 'hall' and minute(minute_at) = {minute}"
    )
    return found[0] if found else None


def test_a_level_is_the_mean_of_what_was_measured_within_the_minute(hall: Any) -> None:
    hall.load([hall.heard(seq, 20 * seq, temperature=float(seq)) for seq in range(6)])
    assert minutes(hall, "temperature") == {0: (1.0, 60.0, 3), 1: (4.0, 60.0, 3)}


def test_decibels_are_averaged_as_energy(hall: Any) -> None:
    """ISO 1996-1, equivalent continuous level: 60 and 80 dB for equal times are 77.03 dB."""
    hall.load([hall.heard(seq, 20 * seq, sound=level) for seq, level in enumerate([60, 80, 60, 80, 60, 80])])
    expected = 10 * log10((10**6 + 2 * 10**8) / 3)
    assert minutes(hall, "sound")[1][0] == pytest.approx(expected, abs=1e-9)
    assert 10 * log10((10**6 + 10**8) / 2) == pytest.approx(77.03, abs=0.005)


@pytest.mark.parametrize("period_s", [20.0, 31.0])
def test_a_count_is_shared_out_over_the_minutes_it_stands_for(build: Any, period_s: float) -> None:
    hall = build(build.mote("M1", burst_period_s=period_s))
    hall.load([hall.heard(seq, period_s * seq, steps=period_s) for seq in range(1, 40)])
    inner = list(minutes(hall, "steps").items())[1:-1]
    assert len(inner) >= 10
    for _, (value, covered_s, _) in inner:
        assert covered_s == pytest.approx(60)
        assert value == pytest.approx(60), "one step a second is sixty a minute, whatever the period"


def test_a_period_of_half_an_hour_fills_thirty_minutes(build: Any) -> None:
    hall = build(build.mote("M1", burst_period_s=1800.0))
    hall.load([hall.heard(seq, 1800.0 * seq, steps=1800.0) for seq in range(1, 5)])
    found = hall.rows("select value, covered_s from mote_minute where measure = 'steps'")
    assert len(found) == 120
    assert all(value == pytest.approx(60) and covered_s == 60 for value, covered_s in found)


def test_nothing_is_counted_twice_when_a_count_is_shared_out(build: Any) -> None:
    hall = build(build.mote("M1", burst_period_s=31.0))
    hall.load([hall.heard(seq, 31.0 * seq + seq % 3 / 5, steps=float(seq % 9)) for seq in range(1, 60)])
    assert hall.rows("select sum(value) from mote_minute where measure = 'steps'")[0] == pytest.approx(
        sum(seq % 9 for seq in range(1, 60))
    )


def test_lost_bursts_do_not_look_like_fewer_people(hall: Any) -> None:
    """One of three bursts is lost: what covers 40 s is scaled to the minute, in the zone only."""
    hall.load([hall.heard(seq, 20 * seq, steps=10.0) for seq in range(1, 10) if seq != 5])
    assert minutes(hall, "steps")[1][:2] == (pytest.approx(20), 40.0)
    assert zone(hall, "steps")[0] == pytest.approx(30)


def test_a_mote_that_covers_less_than_half_a_minute_does_not_speak_for_it(hall: Any) -> None:
    hall.load([hall.heard(seq, 20 * seq, steps=10.0) for seq in range(1, 10) if seq not in (4, 5)])
    assert minutes(hall, "steps")[1][1] == pytest.approx(20)
    assert zone(hall, "steps") is None


def test_a_running_counter_counts_what_it_grew_by(hall: Any) -> None:
    hall.load([hall.heard(seq, 20 * seq, doors=100.0 + 3 * seq) for seq in range(10)])
    assert minutes(hall, "doors")[1] == (pytest.approx(9), 60.0, 3)


def test_a_counter_that_was_set_back_by_a_restart_says_nothing_across_it(hall: Any) -> None:
    hall.load(
        [hall.heard(seq, 20 * seq, doors=100.0 + 3 * seq) for seq in range(4)]
        + [hall.heard(seq, 70 + 20 * seq, doors=3.0 * seq) for seq in range(4)]
    )
    assert hall.rows("select distinct boot from burst order by 1") == [0, 1]
    assert hall.rows("select sum(value) from mote_minute where measure = 'doors'")[0] == pytest.approx(18)
    assert hall.rows("select min(value) from mote_minute where measure = 'doors'")[0] >= 0


def test_a_counter_shares_its_growth_out_over_a_gap(hall: Any) -> None:
    hall.load([hall.heard(seq, 20 * seq, doors=float(seq)) for seq in (0, 1, 2, 20, 21, 22)])
    assert minutes(hall, "doors")[3] == (pytest.approx(3), 60.0, 1)


def test_flagged_readings_are_counted_and_left_out(hall: Any) -> None:
    hall.load([hall.heard(seq, 20 * seq, temperature=999.0 if seq == 4 else 20.0) for seq in range(6)])
    assert hall.rows(
        "select n, left_out, value from mote_minute where measure = 'temperature' order by minute_at"
    ) == [(3, 0, 20.0), (2, 1, 20.0)]


def test_a_minute_in_which_all_is_flagged_has_no_value(hall: Any) -> None:
    hall.load([hall.heard(seq, 20 * seq, temperature=999.0) for seq in range(3)])
    assert hall.rows("select n, left_out, value from mote_minute where measure = 'temperature'") == [
        (0, 3, None)
    ]
    assert hall.rows("select count(*) from zone_minute where measure = 'temperature'") == [0]


def test_a_missing_minute_is_missing_and_not_zero(hall: Any) -> None:
    hall.load([hall.heard(seq, 20 * seq, steps=5.0) for seq in (1, 2, 3, 10, 11, 12)])
    assert 2 not in minutes(hall, "steps")


def test_a_zone_says_how_many_motes_it_should_have(hall: Any) -> None:
    hall.load(
        [hall.heard(seq, 20 * seq, mote, temperature=20.0) for seq in range(6) for mote in ("M1", "M2")]
    )
    assert zone(hall, "temperature") == (20.0, 2, 4)


def test_a_minute_that_holds_a_move_has_no_zone(build: Any) -> None:
    hall = build(build.mote("M1"), placements=[build.placement("M1", 90, "pit")])
    hall.load([hall.heard(seq, 20 * seq, temperature=20.0) for seq in range(10)])
    assert hall.rows("select minute(minute_at), zone from mote_minute order by minute_at") == [
        (0, "hall"),
        (1, None),
        (2, "pit"),
        (3, "pit"),
    ]
    assert hall.rows("select zone, motes_expected from zone_minute order by minute_at") == [
        ("hall", 1),
        ("pit", 1),
        ("pit", 1),
    ]


def test_a_mote_that_was_removed_or_found_is_in_no_zone(build: Any) -> None:
    hall = build(build.mote("M1"), placements=[build.placement("M1", 60, None, "removed")])
    hall.load([hall.heard(seq, 20 * seq, temperature=20.0) for seq in range(9)])
    assert hall.rows("select zone from mote_minute order by minute_at") == ["hall", None, None]


def test_a_reference_is_a_motes_own_middle_in_each_place(build: Any) -> None:
    hall = build(build.mote("M1"), placements=[build.placement("M1", 3600, "pit")])
    hall.load([hall.heard(seq, 20 * seq, temperature=20.0 if seq < 180 else 10.0) for seq in range(360)])
    found = hall.rows("select value from mote_reference where measure = 'temperature' order by from_at")
    assert found == [20.0, 10.0]


def test_the_reference_of_a_count_is_taken_of_whole_minutes(hall: Any) -> None:
    hall.load([hall.heard(seq, 20 * seq, steps=10.0) for seq in range(1, 200) if seq % 3])
    assert hall.rows("select value from mote_reference where measure = 'steps'") == [pytest.approx(30)]


@pytest.mark.parametrize("order", list(permutations(range(3))))
def test_a_sum_does_not_depend_on_the_order_of_adding(build: Any, order: tuple[int, ...]) -> None:
    """0.1 + 0.2 + 0.3 and 0.3 + 0.2 + 0.1 differ as doubles; stored means are the same bits."""
    values = [0.1, 0.2, 0.3]
    assert (values[0] + values[1]) + values[2] != (values[2] + values[1]) + values[0]
    hall = build(*(build.mote(f"M{number}") for number in range(1, 4)))
    hall.load(
        [
            hall.heard(
                0, 5 * turn, f"M{turn + 1}", temperature=values[at], sound=values[at] * 100, steps=values[at]
            )
            for turn, at in enumerate(order)
        ]
    )
    found = dict(hall.rows("select measure, value from zone_minute"))
    assert found["temperature"] == 0.6 / 3
    hall.load(
        [hall.heard(seq, 20 * seq, f"M{turn + 1}", temperature=1.0) for seq in (3, 4, 5) for turn in range(3)]
    )
    assert hall.rows("select value from zone_minute where measure = 'sound' and minute(minute_at) = 0") == [
        found["sound"]
    ]
