"""Staging: each line accounted for, each batch committed by its manifest, whatever happens on the way."""

import errno
import gzip
import json
import subprocess
import sys
from collections import Counter
from dataclasses import replace
from pathlib import Path
from typing import Any

import pyarrow.parquet as pq
import pytest
from fsspec.implementations.memory import MemoryFileSystem

from motelake.core.manifests import Manifest
from motelake.errors import StoreError
from motelake.formats.objects import parse_objects
from motelake.lake.chain import append, read_chain, read_manifests
from motelake.lake.store import Lake
from motelake.steps import stage as stage_step
from motelake.steps.stage import StageReport, stage

Row = tuple[Any, ...]


def run(fair: Any, **limits: Any) -> StageReport:
    campaign = fair.campaign
    campaign = replace(campaign, limits=replace(campaign.limits, **limits))
    return stage(fair.lake, campaign, fair.config, lambda _: None)


def rows_of(fair: Any, names: list[str], work: Path) -> list[dict[str, Any]]:
    tables = [pq.read_table(fair.lake.fetch(name, work), partitioning=None) for name in names]
    return [row for table in tables for row in table.to_pylist()]


def content(fair: Any, work: Path) -> set[Row]:
    """The hearings that count: of each object, those of the latest manifest that names it."""
    latest = {name: one.manifest for name, one in read_chain(fair.lake).known.items()}
    found: Counter[Row] = Counter()
    for manifest in read_manifests(fair.lake):
        for row in rows_of(fair, list(manifest.staged), work):
            if latest[row["object"]] == manifest.number:
                found[tuple(row.values())] += 1
    assert set(found.values()) <= {1}
    return set(found)


def test_a_delivery_becomes_parquet_and_a_manifest(fair: Any, tmp_path: Path) -> None:
    fair.deliver("a.jsonl", fair.line(2), fair.line(1, "M2"), fair.line(5000))
    report = run(fair)
    (manifest,) = read_manifests(fair.lake)
    assert report.manifests == (manifest.id,)
    assert list(manifest.staged) == [
        f"staged/day=2031-05-{day}/{manifest.id}.parquet" for day in ("09", "10")
    ]
    rows = rows_of(fair, list(manifest.staged), tmp_path)
    assert [(row["mote"], row["seq"], row["object"], row["line"]) for row in rows] == [
        ("M1", 2, "raw/a.jsonl", 1),
        ("M2", 1, "raw/a.jsonl", 2),
        ("M1", 5000, "raw/a.jsonl", 3),
    ]
    assert rows[0]["reading_temperature"] == 21.5
    assert rows[0]["reading_sound"] is None


def test_every_line_is_parsed_or_rejected_with_a_reason(fair: Any, tmp_path: Path) -> None:
    broken = ["{", fair.line(2, "M9"), fair.line(3, received_at=None), fair.line(4, readings=None)]
    fair.deliver(
        "a.jsonl", fair.line(1), *broken, fair.line(5, readings={"temperature": "warm", "sound": 50})
    )
    report = run(fair)
    assert (report.lines_read, report.lines_parsed) == (6, 2)
    reasons = {"no_readings": 1, "no_received_at": 1, "not_json": 1, "unknown_mote": 1}
    assert report.rejected == reasons
    (manifest,) = read_manifests(fair.lake)
    assert manifest.rejects is not None
    assert manifest.reading_rejects is not None
    rejects = rows_of(fair, [manifest.rejects], tmp_path)
    assert [(row["line"], row["reason"], row["mote"]) for row in rejects] == [
        (2, "not_json", None),
        (3, "unknown_mote", None),
        (4, "no_received_at", "M1"),
        (5, "no_readings", "M1"),
    ]
    readings = rows_of(fair, [manifest.reading_rejects], tmp_path)
    assert [(row["line"], row["measure"], row["reason"]) for row in readings] == [
        (6, "temperature", "not_a_number")
    ]


def test_a_second_run_finds_nothing_to_do(fair: Any) -> None:
    fair.deliver("a.jsonl", fair.line(1))
    run(fair)
    folders = ("manifests", "staged", "rejects")
    before = [info for folder in folders for info in fair.lake.list(folder)]
    assert run(fair) == StageReport((), 0, 0, 0, {}, (), ())
    assert [info for folder in folders for info in fair.lake.list(folder)] == before


def test_without_any_delivery_there_is_no_manifest(fair: Any) -> None:
    assert run(fair).manifests == ()
    assert read_manifests(fair.lake) == []


def test_an_empty_object_is_taken_with_no_lines(fair: Any) -> None:
    fair.deliver("a.jsonl")
    report = run(fair)
    assert (report.objects, report.lines_read) == (1, 0)
    assert run(fair).objects == 0


def test_batches_keep_their_limits(fair: Any, tmp_path: Path) -> None:
    for number in range(5):
        fair.deliver(f"{number}.jsonl", fair.line(number))
    assert len(run(fair, batch_objects=2).manifests) == 3
    assert len(content(fair, tmp_path)) == 5


def test_a_name_of_no_known_format_is_refused_and_stops_nothing(fair: Any) -> None:
    fair.deliver("a.jsonl", fair.line(1))
    fair.lake.write("raw/notes.txt", b"x")
    fair.lake.write("raw/a\nb.jsonl", b"x")
    report = run(fair)
    assert report.objects == 1
    assert report.needs_attention
    assert [sentence.split(" was refused")[0] for sentence in report.refused] == [
        r"'raw/a\nb.jsonl'",
        "raw/notes.txt",
    ]


def test_an_object_that_changed_is_refused_by_name_and_stops_nothing(fair: Any) -> None:
    fair.deliver("a.jsonl", fair.line(1))
    run(fair)
    fair.deliver("a.jsonl", fair.line(1), fair.line(2))
    fair.deliver("b.jsonl", fair.line(3))
    report = run(fair)
    assert report.objects == 1
    assert report.needs_attention
    assert "raw/a.jsonl was refused: it changed after it was staged" in report.refused[0]


def test_an_object_that_grows_while_it_is_read_is_left_for_the_next_run(
    fair: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    fair.deliver("a.jsonl", fair.line(1))
    fair.deliver("b.jsonl", fair.line(2))

    def grow_and_read(*arguments: Any) -> Any:
        fair.deliver("a.jsonl", fair.line(1), fair.line(3))
        return parse_objects(*arguments)

    monkeypatch.setattr("motelake.steps.batch.parse_objects", grow_and_read)
    report = run(fair)
    assert (report.objects, report.lines_read) == (1, 1)
    assert report.passed_over[0].startswith("raw/a.jsonl was left for the next run: it is still growing")
    monkeypatch.undo()
    assert run(fair).lines_read == 2


def test_an_object_that_may_not_be_read_stops_no_other(fair: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    fair.deliver("a.jsonl", fair.line(1))
    fair.deliver("b.csv", "")
    fair.deliver("c.jsonl", fair.line(2))
    read = fair.lake.filesystem.open, fair.lake.filesystem.cat_file

    def locked(then: Any) -> Any:
        def read_unless_locked(path: str, *rest: Any, **options: Any) -> Any:
            if path.endswith(("a.jsonl", "b.csv")):
                raise PermissionError(errno.EACCES, "Permission denied", path)
            return then(path, *rest, **options)

        return read_unless_locked

    monkeypatch.setattr(fair.lake.filesystem, "open", locked(read[0]))
    monkeypatch.setattr(fair.lake.filesystem, "cat_file", locked(read[1]))
    report = run(fair)
    assert (report.objects, report.lines_read, report.needs_attention) == (1, 1, True)
    for name, sentence in zip(("raw/a.jsonl", "raw/b.csv"), report.refused, strict=True):
        assert sentence.startswith(f"{name} was left for the next run: Reading {name} in ")
        assert "Permission denied" in sentence
        assert sentence.endswith("Check who owns the lake and who runs motelake.")
    monkeypatch.undo()
    report = run(fair)
    assert (report.objects, report.lines_read, report.refused) == (2, 1, ())


def test_too_large_an_object_is_taken_as_refused_and_not_read_in_every_run(fair: Any) -> None:
    fair.lake.write("raw/bomb.jsonl.gz", gzip.compress(b" " * 100_000))
    fair.deliver("a.jsonl", fair.line(1))
    assert run(fair, bytes_per_object=50_000).lines_read == 1
    (manifest,) = read_manifests(fair.lake)
    bomb = next(one for one in manifest.objects if one.name == "raw/bomb.jsonl.gz")
    assert bomb.refused is not None
    assert bomb.lines.read == 0
    assert run(fair, bytes_per_object=50_000).objects == 0
    assert run(fair, bytes_per_object=200_000).objects == 2


def test_bursts_of_an_unknown_mote_come_in_when_the_register_names_it(fair: Any, tmp_path: Path) -> None:
    fair.deliver("a.jsonl", fair.line(1), fair.line(1, "M9"))
    fair.deliver("b.jsonl", fair.line(2))
    run(fair)
    fair.amend("register/motes.csv", "M2,north", "M9,north,sound,track,hall,,,mains,,,\nM2,north")
    assert run(fair).objects == 1
    assert len(content(fair, tmp_path)) == 3
    assert run(fair).objects == 0


def test_a_new_measure_is_read_from_the_objects_that_hold_it(fair: Any, tmp_path: Path) -> None:
    fair.deliver("a.jsonl", fair.line(1, readings={"temperature": 20, "co2": 400}))
    fair.deliver("b.jsonl", fair.line(2))
    run(fair)
    (manifest,) = read_manifests(fair.lake)
    assert [one.dropped for one in manifest.objects] == [{"co2": 1}, {}]
    fair.amend(
        "register/measures.csv", "sound,Sound", "co2,Carbon dioxide,ppm,level,,0,9000,,,,\nsound,Sound"
    )
    assert run(fair).objects == 1
    again = read_manifests(fair.lake)[-1]
    assert [row["reading_co2"] for row in rows_of(fair, list(again.staged), tmp_path)] == [400.0]


def test_a_removed_mote_takes_its_bursts_along(fair: Any, tmp_path: Path) -> None:
    fair.deliver("a.jsonl", fair.line(1), fair.line(1, "M2"))
    run(fair)
    fair.amend("register/motes.csv", "M2,north,temperature,track,hall,,,mains,,,\n", "")
    assert run(fair).rejected == {"unknown_mote": 1}
    assert len(content(fair, tmp_path)) == 1


COMMIT_POINTS = ("put_file", "create", "write")


@pytest.mark.parametrize("deed", COMMIT_POINTS)
@pytest.mark.parametrize("fails_at", [1, 2, 3])
def test_a_run_after_a_crash_leaves_what_an_undisturbed_run_leaves(
    deed: str, fails_at: int, fair: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The process dies before and after each thing that is written; orphans do not count."""
    for number in range(4):
        fair.deliver(f"{number}.jsonl", fair.line(number), fair.line(4000 + number), "{")
    calls = 0
    original = getattr(Lake, deed)

    def dying(*arguments: Any) -> None:
        nonlocal calls
        calls += 1
        if calls == fails_at:
            raise KeyboardInterrupt
        original(*arguments)

    monkeypatch.setattr(Lake, deed, dying)
    with pytest.raises(KeyboardInterrupt):
        run(fair, batch_objects=1)
    monkeypatch.undo()
    run(fair, batch_objects=1)
    assert len(content(fair, tmp_path)) == 8
    known = read_chain(fair.lake).known
    assert len(known) == 4
    assert len({one.id for one in read_manifests(fair.lake)}) == 4


def test_a_crash_before_the_manifest_is_followed_by_the_same_names(
    fair: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    fair.deliver("a.jsonl", fair.line(1))

    def die(*_arguments: Any) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(Lake, "create", die)
    with pytest.raises(KeyboardInterrupt):
        run(fair)
    left = {info.name for info in fair.lake.list("staged")}
    assert len(left) == 1
    monkeypatch.undo()
    run(fair)
    assert {info.name for info in fair.lake.list("staged")} == left


@pytest.mark.parametrize("theirs", [["a.jsonl"], ["a.jsonl", "b.jsonl"], ["other.jsonl"]])
def test_the_loser_of_a_race_closes_its_batch_again(
    theirs: list[str], fair: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    fair.deliver("a.jsonl", fair.line(1))
    fair.deliver("b.jsonl", fair.line(2))
    campaign = fair.campaign

    def be_overtaken(lake: Lake, chain: Any, manifest: Manifest) -> Any:
        monkeypatch.setattr(stage_step, "append", append)
        for name in theirs:
            if name not in ("a.jsonl", "b.jsonl"):
                fair.deliver(name, fair.line(3))
        listed = [info for info in lake.list("raw") if info.name in {f"raw/{name}" for name in theirs}]
        with monkeypatch.context() as patch:
            patch.setattr(Lake, "list", lambda *_: listed)
            stage(lake, campaign, fair.config, lambda _: None)
        return append(lake, chain, manifest)

    monkeypatch.setattr(stage_step, "append", be_overtaken)
    run(fair)
    monkeypatch.undo()
    expected = {f"raw/{name}" for name in ("a.jsonl", "b.jsonl", *theirs)}
    assert set(read_chain(fair.lake).known) == expected
    assert len(content(fair, tmp_path)) == len(expected)
    staged = Counter(one.name for manifest in read_manifests(fair.lake) for one in manifest.objects)
    assert set(staged.values()) == {1}


@pytest.mark.parametrize("fair", ["memory"], indirect=True)
def test_a_store_that_fails_now_and_then_loses_and_doubles_nothing(
    fair: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for number in range(6):
        fair.deliver(f"{number}.jsonl", fair.line(number))
    calls = 0
    original = MemoryFileSystem.open

    def fail_every_seventh(*arguments: Any, **options: Any) -> Any:
        nonlocal calls
        calls += 1
        if calls % 7 == 0:
            raise TimeoutError("no answer")
        return original(*arguments, **options)

    monkeypatch.setattr(MemoryFileSystem, "open", fail_every_seventh)
    runs = 0
    while True:
        runs += 1
        try:
            run(fair, batch_objects=1)
            break
        except StoreError:
            assert runs < 50
    monkeypatch.undo()
    assert runs > 1
    assert len(content(fair, tmp_path)) == 6


def test_a_manifest_can_be_read_by_a_person(fair: Any) -> None:
    fair.deliver("a.jsonl", fair.line(1))
    run(fair)
    record = json.loads(fair.lake.read("manifests/00000001.json"))
    assert record["objects"][0]["lines"] == {"parsed": 1, "read": 1, "rejected": 0}
    assert record["inputs"]["measures"] == {"sound": "dB", "temperature": "Cel"}
    assert record["previous"] is None


@pytest.mark.parametrize("fair", ["folder"], indirect=True)
def test_two_processes_at_once_stage_every_object_once(fair: Any, tmp_path: Path) -> None:
    for number in range(30):
        fair.deliver(f"{number}.jsonl", fair.line(number))
    fair.amend("campaign.toml", "[levels]", "[limits]\nbatch_objects = 2\n[levels]")
    program = (
        "import sys\n"
        "from motelake.config import read_config\n"
        "from motelake.lake.store import Lake\n"
        "from motelake.steps import campaign\n"
        "from motelake.steps.stage import stage\n"
        "lake = Lake.open(sys.argv[1])\n"
        "config = read_config(sys.argv[1], environment={'MOTELAKE_THREADS': '1'})\n"
        "stage(lake, campaign.read(lake), config, print)\n"
    )
    command = [sys.executable, "-c", program, fair.lake.url]
    processes = [subprocess.Popen(command, stdout=subprocess.PIPE) for _ in range(2)]
    said = [process.communicate(timeout=120)[0] for process in processes]
    assert [process.returncode for process in processes] == [0, 0], said
    staged = [one.name for manifest in read_manifests(fair.lake) for one in manifest.objects]
    assert sorted(staged) == sorted(f"raw/{number}.jsonl" for number in range(30))
    assert len(content(fair, tmp_path)) == 30
