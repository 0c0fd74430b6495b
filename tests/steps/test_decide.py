"""Deciding on a held object: only what is held, and never the wrong one."""

from typing import Any

import pytest

from motelake.errors import InputError, UnknownNameError
from motelake.lake.records import read_decisions
from motelake.steps.check import check
from motelake.steps.decide import decide
from motelake.steps.stage import stage


@pytest.fixture
def held(fair: Any) -> Any:
    """The small lake with one held and one passed object."""
    fair.deliver("G1/bad.jsonl", *["{"] * 60)
    fair.deliver("G1/good.jsonl", fair.line(1))
    stage(fair.lake, fair.campaign, fair.config, lambda _: None)
    check(fair.lake, fair.campaign, fair.config, lambda _: None)
    return fair


@pytest.mark.parametrize("wanted", ["raw/G1/bad.jsonl", "G1/bad.jsonl", "bad.jsonl"])
def test_a_decision_is_kept_under_the_hash_of_the_object(wanted: str, held: Any) -> None:
    said: list[str] = []
    decision = decide(held.lake, wanted, "discard", said.append, note="a test of the cable")
    assert read_decisions(held.lake) == {decision.sha256: decision}
    assert (decision.object, decision.decision, decision.note) == (
        "raw/G1/bad.jsonl",
        "discard",
        "a test of the cable",
    )
    assert said == ["raw/G1/bad.jsonl is discarded. The next 'motelake run' acts on it."]


def test_a_later_decision_takes_the_place_of_an_earlier_one(held: Any) -> None:
    decide(held.lake, "bad.jsonl", "discard", lambda _: None)
    later = decide(held.lake, "bad.jsonl", "admit", lambda _: None)
    assert list(read_decisions(held.lake).values()) == [later]


def test_an_object_that_is_not_held_is_not_decided_on(held: Any) -> None:
    with pytest.raises(InputError, match=r"raw/G1/good\.jsonl is not held"):
        decide(held.lake, "good.jsonl", "admit", lambda _: None)
    assert read_decisions(held.lake) == {}


def test_an_unknown_name_is_answered_with_the_nearest(held: Any) -> None:
    with pytest.raises(UnknownNameError, match=r"Did you mean 'raw/G1/bad\.jsonl'"):
        decide(held.lake, "raw/G1/bat.jsonl", "admit", lambda _: None)


def test_an_object_that_is_not_staged_or_checked_yet_is_told_so(held: Any) -> None:
    held.deliver("new.jsonl", *["{"] * 60)
    with pytest.raises(InputError, match="is not staged yet"):
        decide(held.lake, "new.jsonl", "admit", lambda _: None)
    stage(held.lake, held.campaign, held.config, lambda _: None)
    with pytest.raises(InputError, match="has no verdict yet"):
        decide(held.lake, "new.jsonl", "admit", lambda _: None)
