"""Which files are put together, and what is left out of them."""

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import PurePath

from motelake.core.compaction import (
    files_now,
    files_of,
    living_files,
    plan_merges,
    reject_files,
    taken_over,
)
from motelake.core.manifests import Lines, Manifest, StagedObject, StagingInputs

BEGIN = datetime(2031, 5, 9, 4, tzinfo=UTC)
INPUTS = StagingInputs(1, BEGIN, BEGIN + timedelta(days=2), 120, 1, 1, {}, ())


def batch(number: int, *days: int, objects: tuple[str, ...] = ()) -> Manifest:
    """A manifest with a file in each of these days of May and, unless told otherwise, one object."""
    staged = tuple(f"staged/day=2031-05-{day:02}/{number}.parquet" for day in days)
    known = [StagedObject(name, 1, None, name, Lines(1, 1, 0)) for name in objects or (f"raw/{number}",)]
    return Manifest(number, str(number), None, BEGIN, INPUTS, known, staged)


def test_files_are_filled_up_to_a_healthy_size_and_healthy_ones_left_alone() -> None:
    manifests = [batch(number, 9) for number in range(1, 8)] + [batch(8, 10)]
    sizes = {name: 30 for one in manifests for name in one.staged}
    sizes["staged/day=2031-05-09/3.parquet"] = 50
    merges = plan_merges(manifests, sizes, BEGIN, healthy_bytes=100)
    assert [(merge.day, [PurePath(name).stem for name in merge.files]) for merge in merges] == [
        (date(2031, 5, 9), ["1", "2", "4"]),
        (date(2031, 5, 9), ["5", "6", "7"]),
    ]
    assert len({merge.name for merge in merges}) == 2


def test_the_newest_day_is_left_alone_until_the_clock_says_it_is_over() -> None:
    manifests = [batch(1, 9), batch(2, 9)]
    sizes = {name: 1 for one in manifests for name in one.staged}
    assert plan_merges(manifests, sizes, BEGIN) == []
    assert len(plan_merges(manifests, sizes, BEGIN + timedelta(hours=20))) == 1


def test_a_file_that_is_not_listed_yet_waits() -> None:
    manifests = [batch(1, 9), batch(2, 9), batch(3, 10)]
    assert plan_merges(manifests, {manifests[0].staged[0]: 1}, BEGIN) == []


def test_what_was_staged_again_is_left_out_of_the_older_files_only() -> None:
    manifests = [batch(1, 9, objects=("raw/a", "raw/b")), batch(2, 9, objects=("raw/a",)), batch(3, 10)]
    sizes = {name: 1 for one in manifests for name in one.staged}
    (merge,) = plan_merges(manifests, sizes, BEGIN)
    assert merge.left_out == (("staged/day=2031-05-09/1.parquet", "raw/a"),)


def test_a_file_is_followed_through_one_compaction_after_another() -> None:
    first = replace(batch(3), objects=(), staged=("m",), replaces={"m": ("a", "b")})
    second = replace(batch(4), objects=(), staged=("n",), replaces={"n": ("m", "c")})
    moved = taken_over([first, second])
    assert files_now(["a", "x", "b", "c"], moved) == ["n", "x"]
    assert living_files([first, second]) == {"n": 4}


def test_rejects_are_put_together_once_the_days_of_their_batches_are_over() -> None:
    manifests = [
        replace(batch(1, 9, objects=("raw/a",)), rejects="rejects/1", reading_rejects="rejects/1r"),
        replace(batch(2, objects=("raw/b",)), rejects="rejects/2"),
        replace(batch(3, 9, 10, objects=("raw/a",)), rejects="rejects/3"),
    ]
    sizes = {name: 1 for one in manifests for name in files_of(one)}
    (merge,) = (merge for merge in plan_merges(manifests, sizes, BEGIN) if merge.day is None)
    assert merge.files == ("rejects/1", "rejects/1r", "rejects/2")
    assert merge.left_out == (("rejects/1", "raw/a"), ("rejects/1r", "raw/a"))
    assert merge.name.startswith("rejects/")
    made = replace(batch(4), objects=(), staged=(), rejects=merge.name, replaces={merge.name: merge.files})
    assert files_now(reject_files(manifests[0]), taken_over([*manifests, made])) == [merge.name]
    assert set(living_files([*manifests, made])) == {
        merge.name,
        "rejects/3",
        *(name for one in manifests for name in one.staged),
    }
