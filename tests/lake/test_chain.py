"""The chain of manifests: whole, exclusive, and as cheap to read after a year as after a day."""

from collections import Counter
from datetime import UTC, datetime
from uuid import uuid4

import pytest

from motelake.core.manifests import Lines, Manifest, StagedObject, StagingInputs, manifest_name
from motelake.errors import InputError
from motelake.lake.chain import HINT, Chain, append, checkpoint_name, follow, mend, read_chain, read_manifests
from motelake.lake.store import Lake

AT = datetime(2031, 5, 9, 4, tzinfo=UTC)
INPUTS = StagingInputs(1, AT, AT.replace(day=11), 120.0, 2**30, 65536, {"temperature": "Cel"}, ("M1",))


@pytest.fixture
def lake() -> Lake:
    return Lake.at(f"memory://{uuid4().hex}")


def next_manifest(chain: Chain, name: str | None = None) -> Manifest:
    number = chain.number + 1
    staged = StagedObject(name or f"raw/{number}.jsonl", 1, None, f"{number:064}", Lines(1, 1, 0))
    return Manifest(number, f"id{number}", chain.id, AT, INPUTS, (staged,), ())


def extend(lake: Lake, chain: Chain, count: int) -> Chain:
    for _ in range(count):
        chain = append(lake, chain, next_manifest(chain))
    return chain


def test_an_empty_lake_has_an_empty_chain(lake: Lake) -> None:
    chain = read_chain(lake)
    assert (chain.number, chain.id, chain.known) == (0, None, {})
    assert read_manifests(lake) == []


def test_what_was_appended_is_read_again(lake: Lake) -> None:
    written = extend(lake, read_chain(lake), 3)
    assert read_chain(lake) == written
    assert [one.number for one in read_manifests(lake, after=1)] == [2, 3]


def test_the_end_is_found_without_the_hint_and_with_one_that_lags(lake: Lake) -> None:
    extend(lake, read_chain(lake), 4)
    for hint in (b'{"number": 2}', b'{"number": 0}', b"damaged"):
        lake.write(HINT, hint)
        assert read_chain(lake).number == 4
        assert len(read_manifests(lake)) == 4
    lake.remove(HINT)
    chain = read_chain(lake)
    assert chain.number == 4
    assert mend(lake, chain).hint == 4
    assert lake.exists(HINT)


def test_the_loser_of_a_race_follows_and_appends_again(lake: Lake) -> None:
    start = read_chain(lake)
    append(lake, start, next_manifest(start, "raw/theirs.jsonl"))
    with pytest.raises(FileExistsError):
        append(lake, start, next_manifest(start, "raw/ours.jsonl"))
    chain = follow(lake, start)
    append(lake, chain, next_manifest(chain, "raw/ours.jsonl"))
    assert sorted(read_chain(lake).known) == ["raw/ours.jsonl", "raw/theirs.jsonl"]


def test_every_hundredth_manifest_has_a_checkpoint_that_names_all_before(lake: Lake) -> None:
    written = extend(lake, read_chain(lake), 205)
    assert lake.exists(checkpoint_name(100))
    assert lake.exists(checkpoint_name(200))
    # Read from the checkpoint on: what lies before it is not looked at.
    for number in range(1, 200):
        lake.remove(manifest_name(number))
    chain = read_chain(lake)
    assert (chain.number, chain.id, chain.checkpoint) == (205, "id205", 200)
    assert chain.known == written.known


def test_a_checkpoint_that_a_crash_prevented_is_made_up_for(lake: Lake) -> None:
    written = extend(lake, read_chain(lake), 100)
    lake.remove(checkpoint_name(100))
    chain = read_chain(lake)
    assert (chain.number, chain.checkpoint) == (100, 0)
    assert mend(lake, chain).checkpoint == 100
    assert read_chain(lake).known == written.known


def test_a_gap_is_named(lake: Lake) -> None:
    extend(lake, read_chain(lake), 3)
    lake.remove(manifest_name(2))
    with pytest.raises(InputError, match=r"manifests/00000002\.json is missing"):
        read_chain(lake)
    with pytest.raises(InputError, match=r"manifests/00000002\.json is missing"):
        read_manifests(lake)


def test_a_manifest_of_another_chain_is_named(lake: Lake) -> None:
    chain = extend(lake, read_chain(lake), 1)
    stranger = Manifest(2, "id2", "elsewhere", AT, INPUTS, (), ())
    lake.create(manifest_name(2), stranger.to_json())
    with pytest.raises(InputError, match=r"00000002\.json does not follow manifests/00000001\.json"):
        follow(lake, chain)


def test_a_damaged_checkpoint_is_named(lake: Lake) -> None:
    extend(lake, read_chain(lake), 100)
    lake.write(checkpoint_name(100), b"{")
    with pytest.raises(InputError, match=r"checkpoint-00000100\.json is damaged"):
        read_chain(lake)


def test_calls_do_not_grow_with_the_history(calls: Counter[str]) -> None:
    """The hint, a checkpoint, the manifests since and one beyond: never more than a hundred and two."""
    lake = Lake.at(f"memory://{uuid4().hex}")
    chain = read_chain(lake)
    counts: dict[int, Counter[str]] = {}
    for number in (10, 110, 1000, 1010, 1099):
        chain = extend(lake, chain, number - chain.number)
        calls.clear()
        assert read_chain(lake).number == number
        counts[number] = Counter(calls)
    assert counts[10] == {"cat_file": 12}
    assert counts[110] == counts[1010] == {"cat_file": 13}
    assert counts[1000] == {"cat_file": 3}
    assert counts[1099] == {"cat_file": 102}
    calls.clear()
    extend(lake, chain, 1)
    assert calls == {"pipe_file": 3}, "the manifest, checkpoint 1100 and the hint"
