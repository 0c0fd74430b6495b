"""Flags of readings: which test finds what, and what it leaves alone."""

from typing import Any

import pytest

FLAGS = "select seq, flag, reason from reading join burst using (burst) order by seq"


def flagged(hall: Any) -> dict[int, tuple[int, str]]:
    return {seq: (flag, reason) for seq, flag, reason in hall.rows(FLAGS) if reason is not None}


def told(hall: Any, *values: float | None, first: int = 0) -> list[dict[str, Any]]:
    return [
        hall.heard(seq, 20 * seq, temperature=value)
        for seq, value in enumerate(values, start=first)
        if value is not None
    ]


def strict(build: Any, **limits: float) -> Any:
    return build(build.mote("M1"), measures=(build.measure("temperature", **limits),))


def test_every_test_that_did_not_pass_is_named_and_the_worst_decides(build: Any) -> None:
    """IOOS QARTOD, aggregate flags: fail over suspect over pass over not evaluated."""
    hall = strict(build, span_high=85, usual_high=60, max_step=3)
    hall.load(told(hall, 20, 90, 20, 20, 61, 61, 20, 20.5))
    assert flagged(hall) == {
        1: (4, "span+usual+spike"),
        4: (3, "usual+step"),
        5: (3, "usual"),
        6: (3, "step"),
    }
    assert hall.rows("select distinct flag from reading where reason is null") == [1]


def test_without_any_limit_a_reading_is_not_evaluated(build: Any) -> None:
    hall = strict(build)
    hall.load(told(hall, 20, 500, 20))
    assert hall.rows("select distinct flag from reading") == [2]


def test_a_first_burst_has_no_step_to_be_judged_by(build: Any) -> None:
    hall = strict(build, max_step=3)
    hall.load(told(hall, 20, 21))
    assert hall.rows("select flag from reading order by sampled_at") == [2, 1]


@pytest.mark.parametrize("gap", [1, 2, 40])
def test_a_step_is_judged_between_consecutive_bursts_only(build: Any, gap: int) -> None:
    hall = strict(build, max_step=3)
    hall.load([*told(hall, 20, 20, 20), *told(hall, 30, 30, 30, first=3 + gap)])
    assert flagged(hall) == {}


@pytest.mark.parametrize("lost_before", [0, 1, 3])
@pytest.mark.parametrize("lost_after", [0, 1, 3])
def test_a_spike_is_seen_beside_lost_bursts(build: Any, lost_before: int, lost_after: int) -> None:
    """Ours: the manual's spike test needs both neighbours (IOOS QARTOD), and one burst in twenty is lost."""
    hall = strict(build, max_step=3)
    spike, back = 2 + lost_before, 3 + lost_before + lost_after
    hall.load(
        [*told(hall, 20, 20), *told(hall, 33, first=spike), *told(hall, 20, 20, first=back)],
    )
    assert flagged(hall) == {spike: (4, "spike")}
    assert hall.rows("select flag from reading order by sampled_at") == [2, 1, 4, 1, 1]


def test_what_may_have_changed_by_a_step_a_period_is_no_spike(build: Any) -> None:
    hall = strict(build, max_step=3)
    hall.load([*told(hall, 20, 20), *told(hall, 26, 20, first=3)])
    assert flagged(hall) == {4: (3, "step")}


def test_beyond_three_lost_bursts_nobody_can_tell_a_spike(build: Any) -> None:
    hall = strict(build, max_step=3)
    hall.load([*told(hall, 20, 20), *told(hall, 50, first=6), *told(hall, 20, 20, first=8)])
    assert flagged(hall) == {}


def test_a_late_burst_beside_a_spike_is_judged_with_it(build: Any) -> None:
    hall, at_once = strict(build, max_step=3), strict(build, max_step=3)
    most = [*told(hall, 20, 20, 20, 20, 20), *told(hall, 33, first=8), *told(hall, 20, 20, 20, first=12)]
    late = told(hall, 32.5, first=9)
    hall.load(most)
    assert flagged(hall) == {8: (4, "spike")}
    hall.load(late)
    at_once.load([*most, *late])
    assert flagged(hall) == {}
    assert hall.fingerprint() == at_once.fingerprint()


@pytest.mark.parametrize("first", range(25, 29))
def test_what_a_late_burst_bears_upon_is_judged_again_however_far_off(build: Any, first: int) -> None:
    """Readings are made again by whole ten minutes, 30 bursts, and what is late lies beyond a border."""
    hall, other = strict(build, max_step=3), strict(build, max_step=3)
    hall.load([*told(hall, 33, 20, 20, first=first + 4)])
    assert flagged(hall) == {first + 5: (3, "step")}
    hall.load(told(hall, 20, first=first))
    assert flagged(hall) == {first + 4: (4, "spike")}
    other.load([*told(other, 20, 20, 33, first=first)])
    other.load(told(other, 20, first=first + 6))
    assert flagged(other) == {first + 2: (4, "spike")}


def test_steps_across_a_restart_are_not_judged(build: Any) -> None:
    hall = strict(build, max_step=3)
    hall.load(
        [*told(hall, 20, 20, 20), *(hall.heard(seq, 65 + 20 * seq, temperature=30.0) for seq in range(3))]
    )
    assert hall.rows("select count(*) from reading where reason is not null") == [0]


def test_a_step_may_turn_out_to_be_a_spike_when_the_next_burst_is_heard(build: Any) -> None:
    hall = strict(build, max_step=3)
    hall.load(told(hall, 20, 20, 20, 28))
    assert flagged(hall) == {3: (3, "step")}
    hall.load(told(hall, 20, first=4))
    assert flagged(hall) == {3: (4, "spike")}


def test_bursts_without_seq_are_consecutive_by_time(build: Any) -> None:
    hall = strict(build, max_step=3)
    hall.load(
        [hall.heard(None, at, temperature=value) for at, value in ((0, 20), (20, 28), (40, 20), (75, 25))]
    )
    assert hall.rows("select flag, reason from reading order by sampled_at") == [
        (2, None),
        (4, "spike"),
        (1, None),
        (2, None),
    ]


def test_a_flat_run_is_flagged_whole_once_it_is_longer(build: Any) -> None:
    hall = strict(build, flat_after_min=5)
    hall.load(told(hall, 20, *[21.0] * 16))
    assert flagged(hall) == {}, "five minutes are not longer than five minutes"
    hall.load(told(hall, 21, first=17))
    assert flagged(hall) == dict.fromkeys(range(1, 18), (3, "flat"))
    hall.load(told(hall, 20, first=18))
    assert flagged(hall) == dict.fromkeys(range(1, 18), (3, "flat"))


def test_a_late_burst_that_breaks_a_flat_run_takes_its_flags_back(build: Any) -> None:
    hall = strict(build, flat_after_min=5)
    hall.load(told(hall, *[21.0] * 10, None, *[21.0] * 10))
    assert len(flagged(hall)) == 20
    hall.load(told(hall, 21.5, first=10))
    assert flagged(hall) == {}


def test_an_empty_flat_time_switches_the_test_off(build: Any) -> None:
    hall = strict(build, span_high=85)
    hall.load(told(hall, *[0.0] * 500))
    assert flagged(hall) == {}


def test_a_gap_of_ten_periods_and_the_flat_time_ends_a_flat_run(build: Any) -> None:
    hall = strict(build, flat_after_min=10)
    hall.load([*told(hall, *[21.0] * 20), *told(hall, *[21.0] * 20, first=51)])
    assert flagged(hall) == {}


def test_a_flat_run_goes_on_over_a_shorter_gap(build: Any) -> None:
    """An outage in the middle of it does not bring a stuck sensor back to life."""
    hall = strict(build, flat_after_min=10)
    hall.load([*told(hall, 20, *[21.0] * 19), *told(hall, *[21.0] * 20, 20, first=48)])
    assert flagged(hall) == dict.fromkeys([*range(1, 20), *range(48, 68)], (3, "flat"))


def test_a_flat_run_goes_on_over_midnight(build: Any) -> None:
    hall = strict(build, flat_after_min=60)
    hall.load(told(hall, 20, *[21.0] * 200, 20, first=2600))
    assert hall.rows("select count(distinct sampled_at::date), count(*) from reading where flag = 3") == [
        (2, 200)
    ]


def crowd(build: Any, motes: int = 5, **limits: Any) -> Any:
    limits = {"max_step": 3, **limits}
    return build(
        *(build.mote(f"M{number}") for number in range(1, motes + 1)),
        measures=(build.measure("temperature", **limits),),
    )


def hours(
    hall: Any, motes: int = 5, *, odd_by: float = 0.0, all_by: float = 0.0, at_seq: int = 180
) -> list[Any]:
    """Two hours of motes with offsets of their own; from at_seq on M1 is off by odd_by, all by all_by."""
    return [
        hall.heard(
            seq,
            20 * seq + number,
            f"M{number}",
            temperature=20.0
            + 5 * number
            + seq % 3 / 10
            + (all_by + (odd_by if number == 1 else 0)) * (seq >= at_seq),
        )
        for seq in range(360)
        for number in range(1, motes + 1)
    ]


def odd(hall: Any) -> set[Any]:
    return set(hall.rows("select distinct mote from reading where reason like '%odd%'"))


def test_a_mote_that_jumps_away_alone_is_odd_for_half_an_hour_at_most(build: Any) -> None:
    hall = crowd(build)
    hall.load(hours(hall, odd_by=5.0))
    assert odd(hall) == {"M1"}
    lasts_s, flags = hall.rows(
        "select epoch(max(sampled_at) - min(sampled_at)), list(distinct flag) from reading "
        "where reason like '%odd%'"
    )[0]
    assert lasts_s < 1800
    assert flags == [3]
    assert hall.rows("select sum(left_out) from mote_minute where mote = 'M1'")[0] >= 30


@pytest.mark.parametrize("all_by", [5.0, 40.0])
def test_what_all_motes_of_a_zone_do_is_not_odd(build: Any, all_by: float) -> None:
    """A concert's onset, lights, a door: whatever its size, it is the zone's."""
    hall = crowd(build)
    hall.load(hours(hall, all_by=all_by))
    assert odd(hall) == set()


def test_offsets_are_never_odd(build: Any) -> None:
    hall = crowd(build)
    hall.load(hours(hall))
    assert odd(hall) == set()


def test_three_motes_cannot_tell_which_one_is_odd(build: Any) -> None:
    hall = crowd(build, motes=3)
    hall.load(hours(hall, motes=3, odd_by=5.0))
    assert odd(hall) == set()


def test_less_than_the_largest_step_is_never_odd(build: Any) -> None:
    hall = crowd(build, max_step=6)
    hall.load(hours(hall, odd_by=5.0))
    assert odd(hall) == set()


def test_a_measure_without_a_largest_step_has_no_odd_ones(build: Any) -> None:
    hall = crowd(build, max_step=None)
    hall.load(hours(hall, odd_by=50.0))
    assert odd(hall) == set()


def test_a_mote_that_was_carried_elsewhere_is_not_odd(build: Any) -> None:
    hall = crowd(build)
    hall.amend(placements=(build.placement("M1", 3600, "pit"),))
    hall.load(hours(hall, odd_by=5.0))
    assert odd(hall) == set()


def test_a_mote_may_be_odd_in_two_measures_at_once(build: Any) -> None:
    """One that is put into a warm, damp cupboard: each reading is flagged once, by its own measure's test."""
    hall = build(
        *(build.mote(f"M{number}") for number in range(1, 6)),
        measures=(build.measure("temperature", max_step=3), build.measure("humidity", max_step=3)),
    )
    both = [
        hearing | {"reading_humidity": hearing["reading_temperature"]} for hearing in hours(hall, odd_by=5.0)
    ]
    hall.load(both)
    assert hall.rows("select count(*) - count(distinct (burst, measure)) from reading") == [0]
    assert hall.rows("select count(*) - count(distinct (mote, measure, minute_at)) from mote_minute") == [0]
    assert set(hall.rows("select distinct mote, measure from reading where reason like '%odd%'")) == {
        ("M1", "temperature"),
        ("M1", "humidity"),
    }


def test_who_is_odd_is_seen_again_when_the_others_come_in(build: Any) -> None:
    """M1 is odd only beside the others; whoever is delivered last, the flags are the same."""
    first, last, at_once = (crowd(build) for _ in range(3))
    everything = hours(at_once, odd_by=5.0)
    alone = [hearing for hearing in everything if hearing["mote"] == "M1"]
    others = [hearing for hearing in everything if hearing["mote"] != "M1"]
    at_once.load(everything)
    first.load(alone)
    assert odd(first) == set()
    first.load(others)
    last.load(others)
    last.load(alone)
    assert odd(at_once) == {"M1"}
    assert first.fingerprint() == at_once.fingerprint()
    assert last.fingerprint() == at_once.fingerprint()


def test_an_odd_one_is_cleared_when_the_others_turn_out_to_have_done_the_same(build: Any) -> None:
    """The neighbours' half hour comes in late; with it, nobody is odd."""
    hall, at_once = crowd(build), crowd(build)
    shared = hours(hall, all_by=5.0)
    early = [one for one in shared if one["mote"] == "M1" or one["seq"] < 180]
    late = [one for one in shared if one not in early]
    quiet = hours(hall, motes=5)
    stayed = [one for one in quiet if one["mote"] != "M1" and one["seq"] >= 180]
    hall.load(early)
    hall.load(stayed, name="raw/mistaken.jsonl")
    assert odd(hall) == {"M1"}
    hall.load(stayed, name="raw/mistaken.jsonl", state="discarded")
    hall.load(late)
    assert odd(hall) == set()
    at_once.load(shared)
    assert hall.fingerprint() == at_once.fingerprint()
