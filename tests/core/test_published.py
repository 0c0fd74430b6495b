"""What published/ says of itself."""

from datetime import UTC, datetime, timedelta

import pytest

from motelake.core.published import Current, Leaving
from motelake.errors import StoreError

NOON = datetime(2031, 5, 9, 12, tzinfo=UTC)
CURRENT = Current(
    id="ab12",
    snapshot="snapshots/ab12.duckdb",
    made_at=NOON,
    title="Depot Fair",
    parts={"burst": ["parts/burst/1.parquet"], "reading": ["parts/reading/1.parquet"]},
    data_from=NOON - timedelta(hours=3),
    data_to=None,
    versions={"motelake": "0.1.0"},
)


def test_what_is_current_is_read_as_it_was_written() -> None:
    assert Current.from_json(CURRENT.to_json()) == CURRENT


def test_a_snapshot_needs_itself_and_its_parts() -> None:
    assert CURRENT.names() == {"snapshots/ab12.duckdb", "parts/burst/1.parquet", "parts/reading/1.parquet"}


@pytest.mark.parametrize("data", [b"", b"{}", b"[]", b"nonsense", b'{"id": "x"}'])
def test_a_damaged_file_is_named_with_what_to_do(data: bytes) -> None:
    with pytest.raises(StoreError, match=r"current.json cannot be read.*motelake publish"):
        Current.from_json(data)


@pytest.mark.parametrize("data", [b"", b"[]", b'{"x": "yesterday"}', b'{"x": 1}'])
def test_a_damaged_list_of_what_leaves_is_named_with_what_to_do(data: bytes) -> None:
    with pytest.raises(StoreError, match=r"leaving.json cannot be read"):
        Leaving.from_json(data)


def test_a_file_is_overdue_a_day_after_it_was_let_go() -> None:
    leaving = Leaving({}).noted(["a"], NOON).noted(["b"], NOON + timedelta(hours=1))
    assert leaving.overdue(NOON + timedelta(hours=24) - timedelta(seconds=1)) == []
    assert leaving.overdue(NOON + timedelta(hours=24)) == ["a"]
    assert leaving.overdue(NOON + timedelta(hours=25)) == ["a", "b"]


def test_a_file_let_go_again_waits_another_day() -> None:
    leaving = Leaving({"a": NOON}).noted(["a"], NOON + timedelta(hours=20))
    assert leaving.overdue(NOON + timedelta(hours=25)) == []
    assert Leaving.from_json(leaving.to_json()) == leaving


def test_a_file_in_use_no_longer_leaves() -> None:
    assert Leaving({"a": NOON, "b": NOON}).without(["a"]) == Leaving({"b": NOON})
