"""Manifests: content has one id, and files come back as they were written."""

from dataclasses import replace
from datetime import UTC, datetime

import pytest

from motelake.core.manifests import Lines, Manifest, StagedObject, StagingInputs, manifest_id
from motelake.errors import InputError

AT = datetime(2031, 5, 9, 4, tzinfo=UTC)
INPUTS = StagingInputs(
    parser=1,
    starts_at=AT,
    ends_at=AT.replace(day=11),
    late_min=120.0,
    bytes_per_object=2**30,
    bytes_per_line=65536,
    measures={"temperature": "Cel", "sound": "dB"},
    motes=["M2", "M1"],
)
STAGED = StagedObject(
    "raw/a.jsonl", 10, None, "ab" * 32, Lines(3, 2, 1), {"not_json": 1}, dropped={"serial": 2}
)
MANIFEST = Manifest(
    1, "id", None, AT, INPUTS, (STAGED,), ("staged/day=2031-05-09/id.parquet",), "rejects/id.parquet"
)


def test_a_manifest_comes_back_from_its_file() -> None:
    back = Manifest.from_json(MANIFEST.to_json(), "manifests/00000001.json")
    assert back.to_json() == MANIFEST.to_json()
    assert back.objects == MANIFEST.objects


def test_the_id_depends_on_content_alone() -> None:
    objects = [("raw/a", "1"), ("raw/b", "2")]
    other_order = replace(INPUTS, motes=["M1", "M2"], measures={"sound": "dB", "temperature": "Cel"})
    assert manifest_id(INPUTS, objects) == manifest_id(other_order, objects[::-1])
    assert manifest_id(INPUTS, objects) != manifest_id(INPUTS, objects[:1])
    assert manifest_id(INPUTS, objects) != manifest_id(replace(INPUTS, parser=2), objects)


@pytest.mark.parametrize("data", [b"", b"{}", b"[]", b"null", MANIFEST.to_json()[:-5], b"\xff"])
def test_a_damaged_manifest_is_named(data: bytes) -> None:
    with pytest.raises(InputError, match=r"manifests/00000001\.json"):
        Manifest.from_json(data, "manifests/00000001.json")
