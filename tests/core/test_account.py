"""The account of a lake: states of objects and batches, and lines that add up."""

from collections.abc import Sequence
from datetime import UTC, datetime

import pytest

from motelake.core.account import OnRecord, account, count_batches, count_lines, sum_by_name
from motelake.core.decisions import Choice, Decision
from motelake.core.manifests import Lines, Manifest, StagedObject, StagingInputs
from motelake.core.verdicts import BatchVerdict, Verdict

NOON = datetime(2031, 5, 9, 12, tzinfo=UTC)
INPUTS = StagingInputs(1, NOON, NOON, 120, 1, 1, {}, ())

A_LOADED = {"a": OnRecord(1, "loaded", 0)}


def manifest(number: int, *names: str) -> Manifest:
    """A manifest of objects with ten lines each, one of them rejected; its id is its number in words."""
    objects = [
        StagedObject(name, 100, None, f"hash of {name}", Lines(10, 9, 1), {"not_json": 1}) for name in names
    ]
    return Manifest(number, f"id {number}", None, NOON, INPUTS, objects, ())


def verdicts(number: int, state: str, *names: str) -> dict[str, BatchVerdict]:
    spoken = [Verdict(name, "", "hold" if state == "hold" else "pass", ["bad"], (), ()) for name in names]
    return {f"id {number}": BatchVerdict(f"id {number}", "", spoken)}


def decided(name: str, choice: Choice) -> dict[str, Decision]:
    return {f"hash of {name}": Decision(name, f"hash of {name}", choice, NOON)}


def test_an_object_without_a_verdict_is_unchecked() -> None:
    (one,) = account([manifest(1, "a")], {}, {}, {})
    assert (one.state, one.awaits_load) == ("unchecked", False)


def test_an_object_that_passed_awaits_the_load_until_it_is_on_record() -> None:
    spoken = verdicts(1, "pass", "a")
    (before,) = account([manifest(1, "a")], spoken, {}, {})
    assert (before.state, before.awaits_load) == ("passed", True)
    (after,) = account([manifest(1, "a")], spoken, {}, {"a": OnRecord(1, "loaded", 4)})
    assert (after.state, after.awaits_load, after.duplicates) == ("loaded", False, 4)


@pytest.mark.parametrize(
    ("decisions", "on_record", "state", "awaits_load"),
    [
        ({}, {}, "held", False),
        (decided("a", "admit"), {}, "admitted", True),
        (decided("a", "admit"), {"a": OnRecord(1, "admitted", 0)}, "admitted", False),
        (decided("a", "discard"), {}, "discarded", False),
        (decided("a", "discard"), {"a": OnRecord(1, "admitted", 0)}, "discarded", True),
        ({}, {"a": OnRecord(1, "loaded", 0)}, "held", True),
    ],
)
def test_a_held_object_is_what_was_decided_and_awaits_what_was_not_done_yet(
    decisions: dict[str, Decision], on_record: dict[str, OnRecord], state: str, awaits_load: bool
) -> None:
    (one,) = account([manifest(1, "a")], verdicts(1, "hold", "a"), decisions, on_record)
    assert (one.state, one.awaits_load, one.why) == (state, awaits_load, "bad")


def test_an_object_staged_again_counts_once_and_by_its_last_manifest() -> None:
    manifests = [manifest(1, "a", "b"), manifest(2, "a")]
    spoken = verdicts(1, "pass", "a", "b") | verdicts(2, "pass", "a")
    objects = account(manifests, spoken, {}, {"a": OnRecord(1, "loaded", 3), "b": OnRecord(1, "loaded", 0)})
    assert [(one.staged.name, one.batch, one.state) for one in objects] == [
        ("a", 2, "passed"),
        ("b", 1, "loaded"),
    ]
    assert count_lines(objects)["read"] == 20


@pytest.mark.parametrize("duplicates", [0, 4, 9])
def test_lines_add_up(duplicates: int) -> None:
    record = {"a": OnRecord(1, "loaded", duplicates)}
    lines = count_lines(account([manifest(1, "a", "b")], verdicts(1, "pass", "a", "b"), {}, record))
    assert lines == {"read": 20, "staged": 18 - duplicates, "duplicates": duplicates, "rejected": 2}
    assert lines["read"] == lines["staged"] + lines["duplicates"] + lines["rejected"]


@pytest.mark.parametrize(
    ("manifests", "spoken", "record", "expected"),
    [
        ([manifest(1, "a", "b")], {}, {}, {"unchecked": 1}),
        (
            [manifest(1, "a", "b")],
            verdicts(1, "pass", "a", "b"),
            {"a": OnRecord(1, "loaded", 0)},
            {"in part": 1},
        ),
        ([manifest(1, "a"), manifest(2, "a")], verdicts(2, "hold", "a"), {}, {"held": 1, "superseded": 1}),
    ],
)
def test_a_batch_has_the_state_of_all_its_objects_or_is_in_part(
    manifests: Sequence[Manifest],
    spoken: dict[str, BatchVerdict],
    record: dict[str, OnRecord],
    expected: dict[str, int],
) -> None:
    assert count_batches(manifests, account(manifests, spoken, {}, record)) == expected


def test_counts_are_added_by_name_with_the_largest_first() -> None:
    assert list(sum_by_name([{"a": 1, "b": 2}, {"c": 2}, {"a": 4}]).items()) == [("a", 5), ("b", 2), ("c", 2)]
