"""Which boot a burst belongs to, and when it was measured."""

from random import Random
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

BOOTS = "select seq, boot from burst order by sampled_at, boot, seq"
OFFSETS = "select seq, epoch_us(sampled_at - timestamptz '2031-05-09 09:00:00+00') from burst order by seq"


def test_a_mote_that_restarts_begins_a_new_boot_and_repeats_no_burst(hall: Any) -> None:
    hall.load([*hall.course(range(6)), *hall.course(range(4), begins_s=130)])
    assert hall.rows(BOOTS) == [*((seq, 0) for seq in range(6)), *((seq, 1) for seq in range(4))]
    assert hall.rows("select sum(duplicates) from raw_object") == [0]


def test_an_earlier_boot_that_comes_in_late_moves_the_later_one_up(hall: Any) -> None:
    hall.load(hall.course(range(4), begins_s=130))
    assert hall.rows("select distinct boot from burst") == [0]
    hall.load(hall.course(range(6)))
    assert hall.rows(BOOTS) == [*((seq, 0) for seq in range(6)), *((seq, 1) for seq in range(4))]


def test_a_flush_after_a_restart_gives_each_burst_to_its_own_boot(hall: Any) -> None:
    """The gateway kept seq 6..9 of the old boot and 0..2 of the new one, and delivers all of them at once."""
    before, after = hall.course(range(6)), hall.course(range(3, 8), begins_s=215)
    flush = [hall.heard(seq, 300, temperature=30.0 + seq) for seq in (6, 7, 8, 9)]
    flush += [hall.heard(seq, 300, temperature=40.0 + seq) for seq in (0, 1, 2)]
    hall.load([*before, *after], flush)
    found = hall.rows(
        "select boot, seq from burst join reading using (burst) where value >= 30 order by boot, seq"
    )
    assert found == [(0, 6), (0, 7), (0, 8), (0, 9), (1, 0), (1, 1), (1, 2)]
    assert hall.rows("select count(*) from burst where boot > 1") == [0]


def test_a_flush_makes_no_boot_of_its_own(hall: Any) -> None:
    hall.load(hall.course([0, 1, 2, 20, 21]), [hall.heard(seq, 390, temperature=1.0) for seq in range(3, 19)])
    assert hall.rows("select distinct boot from burst") == [0]
    assert hall.rows("select count(*) from burst") == [21]


def test_a_flushed_burst_that_was_heard_before_is_the_same_burst(hall: Any) -> None:
    hall.load(hall.course(range(10)))
    before = hall.fingerprint()
    hall.load(
        [hearing | {"received_at": hall.heard(0, 400)["received_at"]} for hearing in hall.course([4, 5])]
    )
    assert hall.fingerprint() == before


def test_a_late_hearing_that_fits_no_boot_is_uncertain(hall: Any) -> None:
    """Seq 3 is taken by another message, so the late one is nobody's."""
    hall.load(hall.course(range(6)), [hall.heard(3, 95, temperature=-5.0)])
    assert hall.rows("select seq, boot, time_quality from burst where time_quality = 'uncertain'") == [
        (3, 1, "uncertain")
    ]


def test_a_burst_heard_only_in_a_flush_is_bounded_by_its_neighbours(hall: Any) -> None:
    hall.load(hall.course([0, 1, 2, 4, 5, 6]), [hall.heard(3, 500, temperature=1.0)])
    (offset_us, quality, delay_s), *rest = hall.rows(
        "select epoch_us(sampled_at - timestamptz '2031-05-09 09:00:00+00'), time_quality, delay_s "
        "from burst where seq = 3"
    )
    assert rest == []
    assert quality == "bounded"
    assert 60_090_000 <= offset_us <= 60_110_000
    assert delay_s == pytest.approx(500 - offset_us / 1e6, abs=1e-9)


def test_each_quality_of_time_says_what_it_rests_on(hall: Any) -> None:
    hall.load(
        [
            *hall.course(range(4)),
            hall.heard(None, 7, "M2", temperature=1.0),
            hall.heard(0, 9, "M3", temperature=1.0),
        ]
    )
    assert hall.rows(
        "select mote, any_value(time_quality), count(*) from burst group by mote order by mote"
    ) == [
        ("M1", "fitted", 4),
        ("M2", "received", 1),
        ("M3", "uncertain", 1),
    ]


def test_a_mote_with_a_period_of_its_own_is_timed_by_it(build: Any) -> None:
    hall = build(build.mote("M1"), build.mote("M2", burst_period_s=31.0))
    hall.load([hall.heard(seq, 31 * seq + 0.2, "M2", temperature=1.0) for seq in range(12)])
    assert hall.rows("select distinct boot, time_quality from burst") == [(0, "fitted")]
    assert hall.rows("select max(delay_s) from burst")[0] < 0.05


def test_a_corrected_period_applies_to_what_was_heard_before(build: Any) -> None:
    corrected, from_the_start = build(build.mote("M1")), build(build.mote("M1", burst_period_s=31.0))
    hearings = [corrected.heard(seq, 31 * seq + 0.2, temperature=1.0) for seq in range(12)]
    corrected.load(hearings)
    from_the_start.load(hearings)
    assert corrected.fingerprint()["burst"] != from_the_start.fingerprint()["burst"]
    corrected.amend(motes=from_the_start.campaign.register.motes)
    assert corrected.fingerprint() == from_the_start.fingerprint()


@pytest.mark.parametrize("drift", [-50e-6, 0.0, 50e-6])
def test_drift_of_fifty_millionths_does_not_pile_up(build: Any, drift: float) -> None:
    """Half a day of bursts; 50 ppm of it are 2 s, yet each time is right to half a second (design value)."""
    hall = build(build.mote("M1"))
    chance = Random(7)
    period_s = 20 * (1 + drift)
    hall.load(
        [
            hall.heard(seq, seq * period_s + chance.expovariate(2.5), temperature=1.0)
            for seq in range(2160)
            if chance.random() > 0.05
        ]
    )
    errors = [offset / 1e6 - seq * period_s for seq, offset in hall.rows(OFFSETS)]
    assert hall.rows("select distinct boot from burst") == [0]
    assert max(errors) < 0.5
    assert min(errors) > -0.001


def least_bounds(heard: list[tuple[int, int]], period_us: int, drift_ns: int) -> list[tuple[int, int]]:
    """sampled_at as the rule says it, burst against burst: seq and whole milliseconds."""
    found = {}
    for seq, _ in heard:
        found[seq] = (
            min(
                heard_us * 1000 + (seq - other) * period_us * 1000 + abs(seq - other) * drift_ns
                for other, heard_us in heard
            )
            // 1_000_000
        )
    return sorted(found.items())


@settings(max_examples=20, deadline=None, suppress_health_check=list(HealthCheck))
@given(
    delays_ms=st.lists(st.integers(0, 2900), min_size=6, max_size=40),
    skipped=st.sets(st.integers(0, 39)),
    drift_ppm=st.sampled_from([0, 100, 5000]),
)
def test_two_running_minima_are_the_least_of_all_bounds(
    build: Any, delays_ms: list[int], skipped: set[int], drift_ppm: int
) -> None:
    hall = build(build.mote("M1"), drift_ppm=float(drift_ppm))
    numbered = [(seq, delay) for seq, delay in enumerate(delays_ms) if seq not in skipped or seq < 4]
    hearings = [hall.heard(seq, 20 * seq + delay / 1000, temperature=1.0) for seq, delay in numbered]
    # Three punctual bursts show the start; they bound the others like any.
    hearings += [hall.heard(seq, 20 * seq, temperature=1.0) for seq in (41, 42, 43)]
    hall.load(hearings)
    first_us = 1_936_083_600_000_000
    heard = [(seq, first_us + 20_000_000 * seq + 1000 * delay) for seq, delay in numbered]
    heard += [(seq, first_us + 20_000_000 * seq) for seq in (41, 42, 43)]
    oracle = least_bounds(heard, 20_000_000, 20_000 * drift_ppm)
    found = hall.rows("select seq, epoch_us(sampled_at) // 1000 from burst where boot = 0 order by seq")
    assert found == oracle
