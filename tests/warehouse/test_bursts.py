"""What is one burst, and what is another (rules of identity, each with its counter-example)."""

from itertools import permutations
from typing import Any

import pytest

ALL = "select seq, boot, burst from burst order by sampled_at, burst"


def values(hall: Any, measure: str = "temperature") -> list[Any]:
    return list(
        hall.rows(f"select value from reading where measure = '{measure}' order by sampled_at, value")
    )


def test_a_burst_sent_again_is_one_burst(hall: Any) -> None:
    bursts = hall.course(range(5))
    hall.load(bursts)
    once = hall.fingerprint()
    hall.load(bursts[2:4])
    assert hall.fingerprint() == once
    assert hall.rows("select read, staged, duplicates from raw_object order by object") == [
        (5, 5, 0),
        (2, 0, 2),
    ]


def test_a_burst_heard_by_two_gateways_is_one_burst_of_the_first(hall: Any) -> None:
    first = hall.course(range(3))
    hall.load(first, hall.course(range(3), delay_s=0.4, gateway="G0"))
    alone = hall.rows("select burst, gateway from burst order by seq")
    assert len(alone) == 3
    assert {gateway for _, gateway in alone} == {"G1"}


def test_a_duplicate_does_not_change_the_id_of_its_burst(hall: Any) -> None:
    hall.load(hall.course(range(3)))
    before = hall.rows(ALL)
    hall.load(hall.course(range(3), delay_s=0.4, gateway="G0"))
    assert hall.rows(ALL) == before


def test_temperature_and_humidity_in_two_files_are_one_burst(hall: Any) -> None:
    warm, damp = [], []
    for seq in range(4):
        warm.append(hall.heard(seq, 20 * seq + 0.1, temperature=21.0))
        damp.append(hall.heard(seq, 20 * seq + 0.1, humidity=40.0))
    hall.load(warm)
    hall.load(damp)
    assert hall.rows("select count(*) from burst") == [4]
    assert values(hall) == [21.0] * 4
    assert values(hall, "humidity") == [40.0] * 4
    assert hall.rows("select sum(duplicates) from raw_object") == [0]


@pytest.mark.parametrize("order", list(permutations(range(3))))
def test_where_hearings_disagree_the_smallest_wins(hall: Any, order: tuple[int, ...]) -> None:
    told = [
        hall.heard(1, 20.3, gateway="G1", temperature=21.0),
        hall.heard(1, 20.2, gateway="G2", temperature=22.0),
        hall.heard(1, 20.2, gateway="G1", temperature=23.0),
    ]
    hall.load(hall.course([0, 2, 3]))
    for position in order:
        hall.load([told[position]])
    assert hall.rows("select value from reading join burst using (burst) where seq = 1") == [23.0]
    assert hall.rows("select gateway from burst where seq = 1") == ["G1"]


@pytest.mark.parametrize("field", ["temperature", "battery_v", "rssi_dbm"])
@pytest.mark.parametrize("is_smaller_first", [True, False])
def test_of_two_contents_of_one_stamp_the_smaller_wins_whichever_came_first(
    hall: Any, field: str, is_smaller_first: bool
) -> None:
    low, high = (hall.heard(1, 20.1, **{"temperature": 21.0, field: value}) for value in (-3.0, 3.0))
    hall.load(hall.course([0, 2, 3]))
    for hearing in (low, high) if is_smaller_first else (high, low):
        hall.load([hearing])
    relation = "reading join burst using (burst)" if field == "temperature" else "burst"
    column = "value" if field == "temperature" else field
    assert hall.rows(f"select {column} from {relation} where seq = 1") == [-3.0]


def test_rows_of_one_stamp_without_seq_are_one_burst(hall: Any) -> None:
    hall.load([hall.heard(None, 0, temperature=21.0), hall.heard(None, 0, humidity=40.0)])
    assert hall.rows("select count(*), min(time_quality), min(boot) from burst") == [(1, "received", 0)]


def test_the_same_message_without_seq_within_half_a_period_is_one_burst(hall: Any) -> None:
    hall.load([hall.heard(None, 0, temperature=21.0), hall.heard(None, 9.9, gateway="G2", temperature=21.0)])
    assert hall.rows("select count(*) from burst") == [1]
    assert hall.rows("select gateway from burst") == ["G1"]


def test_the_same_message_without_seq_a_period_later_is_another_burst(hall: Any) -> None:
    hall.load([hall.heard(None, 0, temperature=21.0)])
    hall.load([hall.heard(None, 20, temperature=21.0)])
    assert values(hall) == [21.0, 21.0]


def test_another_message_without_seq_is_another_burst(hall: Any) -> None:
    hall.load([hall.heard(None, 0, temperature=21.0), hall.heard(None, 5, temperature=21.5)])
    assert values(hall) == [21.0, 21.5]


def test_two_messages_of_one_stamp_without_seq_that_disagree_are_two_bursts(hall: Any) -> None:
    hall.load([hall.heard(None, 0, temperature=21.0), hall.heard(None, 0, temperature=21.5)])
    assert values(hall) == [21.0, 21.5]


def test_a_hearing_that_leaves_takes_nothing_of_others_along(hall: Any) -> None:
    hall.load(hall.course(range(5)), name="raw/kept.jsonl")
    kept = hall.fingerprint()
    hall.load([*hall.course(range(3, 8), delay_s=0.05)], name="raw/leaves.jsonl")
    assert hall.fingerprint() != kept
    hall.load([*hall.course(range(3, 8), delay_s=0.05)], name="raw/leaves.jsonl", state="held")
    assert hall.fingerprint() == kept
