"""Compaction: fewer and larger files, the same content, and nothing taken away under a reader."""

import json
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from motelake.steps.check import check
from motelake.steps.compact import CompactReport, compact
from motelake.steps.decide import decide
from motelake.steps.fingerprint import fingerprint_warehouse
from motelake.steps.read import open_snapshot
from motelake.steps.rebuild import rebuild
from motelake.steps.run import run
from motelake.warehouse.fingerprint import fingerprint

BEGIN = datetime(2031, 5, 9, 4, tzinfo=UTC)
A_DAY = timedelta(hours=24, minutes=1)


def quietly(_sentence: str) -> None:
    return None


def run_all(fair: Any) -> None:
    run(fair.lake, fair.campaign, fair.config, quietly)


def compact_at(fair: Any, now: datetime) -> CompactReport:
    return compact(fair.lake, fair.campaign, fair.config, quietly, now=now, refresh=("run",))


def rebuilt(fair: Any) -> dict[str, str]:
    rebuild(fair.lake, fair.campaign, fair.config, quietly)
    return fingerprint_warehouse(fair.config)


def published(fair: Any) -> dict[str, str]:
    with open_snapshot(fair.lake) as reader:
        return fingerprint(reader)


def rejects(fair: Any) -> list[Any]:
    with open_snapshot(fair.lake) as reader:
        return reader.execute("select * from reject order by all").fetchall()


def names(fair: Any, folder: str) -> list[str]:
    return [info.name for info in fair.lake.list(folder)]


@pytest.fixture(autouse=True)
def no_page(monkeypatch: pytest.MonkeyPatch) -> None:
    """Nothing here is about the page, which costs more than the rest."""
    monkeypatch.setattr("motelake.steps.refresh_page.refresh_page", lambda *_, **__: (False, ()))


@pytest.fixture
def fair(fair: Any) -> Any:
    """The small lake, each object a batch of its own."""
    fair.amend("campaign.toml", "[levels]", "limits = {batch_objects = 1}\n[levels]")
    return fair


@pytest.fixture
def lived(fair: Any) -> Any:
    """Six batches over two days, the later three in the later day, each with a rejected line."""
    for number, minute in enumerate((0, 60, 120, 20 * 60, 21 * 60, 22 * 60)):
        fair.deliver(f"{number}.jsonl", *(fair.line(3 * minute + seq) for seq in range(30)), "broken")
    run_all(fair)
    return fair


@pytest.mark.parametrize("fair", ["folder", "store"], indirect=True)
def test_files_of_a_day_that_is_over_become_one_and_nothing_else_changes(lived: Any) -> None:
    now = datetime.now(UTC)
    before, rejected = fingerprint_warehouse(lived.config), rejects(lived)
    assert len(rejected) == 6
    old_parts, old_staged = set(names(lived, "published/parts")), set(names(lived, "staged"))
    old_rejects = set(names(lived, "rejects"))
    report = compact_at(lived, now)
    # Three files of hearings and three of rejects become one each.
    assert (report.files_merged, report.files_made, report.files_removed) == (6, 2, 0)
    assert published(lived) == fingerprint_warehouse(lived.config) == before

    # What is replaced is there for a day, for whoever reads it, and then gone.
    assert old_staged < set(names(lived, "staged"))
    assert old_rejects < set(names(lived, "rejects"))
    assert old_parts < set(names(lived, "published/parts"))
    again = compact_at(lived, now + A_DAY)
    assert (again.files_merged, again.files_removed) == (0, 6)
    assert len(names(lived, "rejects")) == 4
    assert len(names(lived, "staged/day=2031-05-09")) == 1
    assert len(names(lived, "staged/day=2031-05-10")) == 3
    day_parts = [name for name in names(lived, "published/parts/reading") if "/2031-05-09" in name]
    assert len(day_parts) == 1
    assert published(lived) == before
    assert rebuilt(lived) == before
    run_all(lived)
    assert published(lived) == before
    assert rejects(lived) == rejected


@pytest.mark.parametrize("fair", ["folder"], indirect=True)
def test_an_object_staged_again_does_not_come_out_of_what_was_merged(fair: Any) -> None:
    for number in range(3):
        fair.deliver(f"{number}.jsonl", fair.line(9 * number), fair.line(9 * number + 1, mote="M3"))
    fair.deliver("late.jsonl", fair.line(3 * 60 * 23))
    run_all(fair)
    assert compact_at(fair, datetime.now(UTC)).files_merged == 6
    # The mote that nobody knew enters the register: what was staged is staged again.
    fair.amend("register/motes.csv", "M2,north,", "M3,north,temperature,track,hall,,,mains,,,\nM2,north,")
    run_all(fair)
    before = fingerprint_warehouse(fair.config)
    report = compact_at(fair, datetime.now(UTC))
    assert report.files_merged == 4
    assert published(fair) == rebuilt(fair) == before
    run_all(fair)
    assert published(fair) == before


@pytest.mark.parametrize("fair", ["folder"], indirect=True)
def test_a_held_object_is_admitted_from_the_file_it_was_put_into(fair: Any) -> None:
    for number in range(2):
        fair.deliver(f"{number}.jsonl", *(fair.line(60 * number + seq) for seq in range(30)))
    fair.deliver("bad.jsonl", *(fair.line(200 + seq) for seq in range(40)), *["broken"] * 40)
    fair.deliver("late.jsonl", fair.line(3 * 60 * 23))
    run_all(fair)
    now = datetime.now(UTC)
    compact_at(fair, now)
    compact_at(fair, now + A_DAY)
    decide(fair.lake, "raw/bad.jsonl", "admit", quietly)
    run_all(fair)
    with open_snapshot(fair.lake) as reader:
        assert reader.execute("select count(*) from burst").fetchall() == [(101,)]
    assert published(fair) == rebuilt(fair)


@pytest.mark.parametrize("fair", ["folder"], indirect=True)
def test_what_was_merged_can_be_judged_again_and_looked_at_by_the_watch(lived: Any) -> None:
    from motelake.steps.watch import watch

    now = datetime.now(UTC)
    compact_at(lived, now)
    compact_at(lived, now + A_DAY)
    verdicts = {name: lived.lake.read(name) for name in names(lived, "validation") if "state" not in name}
    # Other limits: every verdict is made again, from the files as they lie now.
    lived.amend("campaign.toml", "batch_objects = 1", "batch_objects = 1, reject_share = 0.3")
    report = check(lived.lake, lived.campaign, lived.config, quietly)
    assert (report.manifests, report.objects, report.held) == (6, 6, ())
    for name, data in verdicts.items():
        old, new = (json.loads(one)["objects"][0]["expectations"] for one in (data, lived.lake.read(name)))
        assert [one["observed"] for one in old] == [one["observed"] for one in new]
    until = BEGIN + timedelta(hours=22, minutes=10)
    assert watch(lived.lake, lived.campaign, lived.config, quietly, now=until).heard_until is not None


@pytest.mark.parametrize("fair", ["folder"], indirect=True)
def test_a_late_hour_of_a_merged_day_is_written_alone(lived: Any) -> None:
    now = datetime.now(UTC)
    compact_at(lived, now)
    before = set(names(lived, "published/parts/burst"))
    lived.deliver("straggler.jsonl", lived.line(3 * 60 + 40))
    run_all(lived)
    new = set(names(lived, "published/parts/burst")) - before
    assert {name.rpartition("/")[2][:13] for name in new} == {"2031-05-09T05"}
    current = json.loads(lived.lake.read("published/current.json"))
    assert {name.rpartition("/")[2][:13] for name in current["parts"]["burst"] if "05-09" in name} == {
        f"2031-05-09T{hour:02}" for hour in (4, 5, 6)
    }
    assert published(lived) == fingerprint_warehouse(lived.config)
    # The hours that were not kept are made again where the day is needed in hours later on.
    compact_at(lived, now + timedelta(hours=1))
    compact_at(lived, now + timedelta(hours=1) + A_DAY)
    lived.deliver("straggler-too.jsonl", lived.line(3 * 60 + 50))
    run_all(lived)
    assert published(lived) == fingerprint_warehouse(lived.config)


@pytest.mark.parametrize("fair", ["folder"], indirect=True)
def test_what_was_killed_half_written_goes_a_day_later_and_nothing_that_others_put_there(
    lived: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    with monkeypatch.context() as killed:
        # As kill -9 between writing aside and renaming: the file aside stays.
        killed.setattr(Path, "replace", lambda *_: None)
        for name in ("published/parts/burst/x.parquet", "manifests/x.json", "raw/x.jsonl"):
            lived.lake.write(name, b"half")
    root = lived.lake.local_path("campaign.toml").parent
    (root / "published" / ".note.part").write_text("somebody's own")
    now = datetime.now(UTC)
    assert compact_at(lived, now + timedelta(hours=23)).files_removed == 0
    assert compact_at(lived, now + A_DAY).files_removed == 2
    left = {file.parent.name for file in root.rglob(".*.part")}
    assert left == {"raw", "published"}


@pytest.mark.parametrize("fair", ["folder"], indirect=True)
def test_what_a_batch_left_that_never_came_to_be_goes_a_day_later(lived: Any) -> None:
    # As staging leaves them that was killed between its files and its manifest.
    left = ("staged/day=2031-05-09/dead.parquet", "rejects/dead.parquet")
    for name in left:
        lived.lake.write(name, lived.lake.read(names(lived, name.partition("/")[0])[0]))
    now = datetime.now(UTC)
    before = fingerprint_warehouse(lived.config)
    compact_at(lived, now)
    assert set(left) <= {*names(lived, "staged"), *names(lived, "rejects")}
    compact_at(lived, now + A_DAY)
    assert not set(left) & {*names(lived, "staged"), *names(lived, "rejects")}
    assert published(lived) == rebuilt(lived) == before
