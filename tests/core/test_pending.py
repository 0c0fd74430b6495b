"""What is still to be staged: a matter of content, not of order or batches."""

import json
from collections.abc import Iterable, Sequence
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from itertools import pairwise
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from motelake.core.manifests import Lines, Manifest, ObjectInfo, StagedObject, StagingInputs
from motelake.core.pending import (
    checkpoint_record,
    close_batches,
    known_from_checkpoint,
    known_objects,
    pending,
)

AT = datetime(2031, 5, 9, 4, tzinfo=UTC)
INPUTS = StagingInputs(
    1, AT, AT + timedelta(days=2), 120.0, 2**30, 65536, {"temperature": "Cel"}, ("M1", "M2")
)


def manifest(number: int, objects: Iterable[StagedObject], inputs: StagingInputs = INPUTS) -> Manifest:
    return Manifest(number, f"id{number}", None, AT, inputs, tuple(objects), ())


def staged(name: str, size: int = 1, etag: str | None = None, **account: Any) -> StagedObject:
    return StagedObject(name, size, etag, f"hash of {name}", Lines(1, 1, 0), **account)


def names(objects: Iterable[ObjectInfo]) -> list[str]:
    return [info.name for info in objects]


@given(
    st.lists(st.text("abc", min_size=1, max_size=3), unique=True),
    st.lists(st.integers(0, 20), max_size=4),
    st.randoms(),
)
def test_order_and_batching_do_not_matter(delivered: list[str], cuts: Sequence[int], random: Any) -> None:
    infos = [ObjectInfo(name, 1, None) for name in delivered]
    shuffled = list(infos)
    random.shuffle(shuffled)
    edges = [0, *sorted(min(cut, len(shuffled)) for cut in cuts)]
    groups = [shuffled[start:end] for start, end in pairwise(edges)]
    manifests = [
        manifest(number, (staged(info.name) for info in group)) for number, group in enumerate(groups, 1)
    ]
    random.shuffle(manifests)
    found = pending(shuffled, known_objects(manifests), INPUTS)
    taken = {info.name for group in groups for info in group}
    assert names(found.objects) == sorted(set(delivered) - taken)
    assert found.changed == ()


@given(st.lists(st.integers(0, 50)), st.integers(1, 5), st.integers(1, 60))
def test_batches_hold_every_object_once_and_keep_the_limits(
    sizes: list[int], per_batch: int, bytes_per_batch: int
) -> None:
    infos = [ObjectInfo(f"raw/{number:03}", size, None) for number, size in enumerate(sizes)]
    batches = list(close_batches(infos, per_batch, bytes_per_batch))
    assert [info for batch in batches for info in batch] == infos
    for batch in batches:
        assert len(batch) <= per_batch
        assert len(batch) == 1 or sum(info.size for info in batch) <= bytes_per_batch


def test_the_latest_manifest_that_names_an_object_counts() -> None:
    other = replace(INPUTS, motes=("M1", "M2", "M3"))
    manifests = [manifest(2, [staged("raw/a")], other), manifest(1, [staged("raw/a"), staged("raw/b")])]
    known = known_objects(manifests)
    assert {name: one.manifest for name, one in known.items()} == {"raw/a": 2, "raw/b": 1}


@pytest.mark.parametrize(
    ("size", "etag", "is_refused"),
    [(1, "x", False), (1, None, False), (2, "x", True), (1, "y", True)],
)
def test_an_object_that_changed_is_refused_by_name(size: int, etag: str | None, is_refused: bool) -> None:
    known = known_objects([manifest(1, [staged("raw/a", 1, "x")])])
    found = pending([ObjectInfo("raw/a", size, etag), ObjectInfo("raw/b", 5, None)], known, INPUTS)
    assert [error.name for error in found.changed] == (["raw/a"] if is_refused else [])
    assert names(found.objects) == ["raw/b"]


MORE_MEASURES = {"temperature": "Cel", "sound": "dB"}


@pytest.mark.parametrize(
    ("account", "changes", "is_staged_again"),
    [
        ({}, {}, False),
        ({}, {"parser": 2}, True),
        ({}, {"starts_at": AT + timedelta(hours=1)}, True),
        ({}, {"ends_at": AT + timedelta(hours=1)}, True),
        ({}, {"late_min": 60.0}, True),
        ({}, {"bytes_per_line": 100}, True),
        ({}, {"bytes_per_object": 100}, True),
        ({}, {"measures": {}}, True),
        ({}, {"measures": {"temperature": "K"}}, True),
        ({}, {"measures": MORE_MEASURES}, False),
        ({"dropped": {"serial": 3}}, {"measures": MORE_MEASURES}, False),
        ({"dropped": {"sound": 3}}, {"measures": MORE_MEASURES}, True),
        ({"dropped": {"(other)": 3}}, {"measures": MORE_MEASURES}, True),
        ({}, {"motes": ("M1",)}, True),
        ({}, {"motes": ("M1", "M2", "M3")}, False),
        ({"rejected": {"not_json": 1}}, {"motes": ("M1", "M2", "M3")}, False),
        ({"rejected": {"unknown_mote": 1}}, {"motes": ("M1", "M2", "M3")}, True),
        ({"rejected": {"unknown_mote": 1}}, {"motes": ("M2", "M1")}, False),
    ],
)
def test_an_object_is_staged_again_where_it_may_come_out_otherwise(
    account: dict[str, Any], changes: dict[str, Any], is_staged_again: bool
) -> None:
    known = known_objects([manifest(1, [staged("raw/a", **account)])])
    found = pending([ObjectInfo("raw/a", 1, None)], known, replace(INPUTS, **changes))
    assert bool(found.objects) == is_staged_again


def test_a_checkpoint_gives_back_all_that_is_known() -> None:
    other = replace(INPUTS, motes=("M1",))
    first = [staged("raw/a", 7, "tag", dropped={"serial": 1}), staged("raw/ü", rejected={"unknown_mote": 4})]
    known = known_objects([manifest(1, first), manifest(2, [staged("raw/c")], other)])
    record = json.loads(json.dumps(checkpoint_record(2, "id2", known)))
    assert len(record["inputs"]) == 2
    back = known_from_checkpoint(record)
    assert checkpoint_record(2, "id2", back) == record
    infos = [ObjectInfo("raw/a", 7, "tag"), ObjectInfo("raw/ü", 1, None), ObjectInfo("raw/c", 1, None)]
    assert pending(infos, back, INPUTS) == pending(infos, known, INPUTS)
