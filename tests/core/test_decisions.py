"""Decisions: the object meant is found by the end of its name, and never guessed."""

from datetime import UTC, datetime

import pytest

from motelake.core.decisions import Decision, decision_name, find_object
from motelake.errors import InputError, UnknownNameError

NAMES = ["raw/G1/07.jsonl", "raw/G1/08.jsonl", "raw/G2/07.jsonl", "raw/XG1/07.jsonl"]


@pytest.mark.parametrize(
    ("wanted", "found"),
    [
        ("raw/G1/08.jsonl", "raw/G1/08.jsonl"),
        ("08.jsonl", "raw/G1/08.jsonl"),
        ("G1/07.jsonl", "raw/G1/07.jsonl"),
    ],
)
def test_an_object_is_found_by_its_name_or_the_end_of_it(wanted: str, found: str) -> None:
    assert find_object(wanted, NAMES) == found


def test_an_end_that_several_names_share_is_refused() -> None:
    with pytest.raises(InputError, match="any of 3 raw objects"):
        find_object("07.jsonl", NAMES)


def test_an_unknown_name_is_answered_with_the_nearest() -> None:
    with pytest.raises(UnknownNameError, match=r"Did you mean 'raw/G1/08\.jsonl'"):
        find_object("raw/G1/09.jsonl", NAMES[1:])


def test_a_decision_comes_back_from_its_file() -> None:
    decision = Decision("raw/a", "ab" * 32, "admit", datetime(2031, 5, 9, tzinfo=UTC), "looked at it")
    assert Decision.from_json(decision.to_json(), "x") == decision
    assert decision_name(decision.sha256) == f"decisions/{'ab' * 16}.json"


@pytest.mark.parametrize("data", [b"", b"{}", b'{"decision": "perhaps"}'])
def test_a_damaged_decision_is_named(data: bytes) -> None:
    with pytest.raises(InputError, match=r"decisions/x\.json"):
        Decision.from_json(data, "decisions/x.json")
