"""The doctor: what is well is said to be, what is not comes with what to do."""

import shutil
from contextlib import closing
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from motelake.engine import open_engine
from motelake.errors import StoreError
from motelake.lake.store import Lake
from motelake.steps.doctor import doctor
from motelake.steps.run import run
from motelake.warehouse.store import open_warehouse, write_state

ONE_LAKE = pytest.mark.parametrize("fair", ["folder"], indirect=True)


def said(config: Any, subject: str) -> list[tuple[str, str]]:
    return [(one.state, one.sentence) for one in doctor(config).findings if one.subject == subject]


@pytest.fixture
def run_fair(fair: Any) -> Any:
    fair.deliver("day.jsonl", *[fair.line(seq) for seq in range(60)])
    run(fair.lake, fair.campaign, fair.config, lambda _: None)
    return fair


@pytest.mark.parametrize("fair", ["folder", "memory", "store"], indirect=True)
def test_a_lake_that_was_run_is_well_and_nothing_is_left_in_it(run_fair: Any) -> None:
    before = [info.name for info in run_fair.lake.list("watch")]
    report = doctor(run_fair.config)
    assert {one.subject: one.state for one in report.findings if one.state != "good"} == {}
    assert not report.needs_attention
    assert [info.name for info in run_fair.lake.list("watch")] == before == []


@ONE_LAKE
def test_a_new_lake_is_told_what_comes_next(fair: Any) -> None:
    ((state, sentence),) = said(fair.config, "snapshot")
    assert state == "note"
    assert f"motelake run {fair.lake.url}" in sentence
    assert said(fair.config, "warehouse")[0][0] == "note"


@ONE_LAKE
def test_mistakes_of_the_register_are_told(fair: Any) -> None:
    fair.amend("register/motes.csv", "hall", "nowhere")
    ((state, sentence),) = said(fair.config, "campaign")
    assert state == "bad"
    assert "register/motes.csv" in sentence


def test_a_lake_that_is_not_there_is_told_and_the_rest_looked_at(tmp_path: Path, fair: Any) -> None:
    config = replace(fair.config, lake=str(tmp_path / "none"))
    assert said(config, "lake")[0][0] == "bad"
    assert said(config, "room")


@ONE_LAKE
def test_a_warehouse_of_another_version_is_to_be_rebuilt(run_fair: Any) -> None:
    with closing(open_warehouse(run_fair.config)) as engine:
        write_state(engine, "schema_version", "0")
    ((state, sentence),) = said(run_fair.config, "warehouse")
    assert state == "bad"
    assert f"motelake rebuild {run_fair.lake.url}" in sentence


@ONE_LAKE
def test_a_damaged_warehouse_is_told(fair: Any) -> None:
    fair.config.warehouse.write_bytes(b"no database" * 1000)
    ((state, sentence),) = said(fair.config, "warehouse")
    assert state == "bad"
    assert f"motelake rebuild {fair.lake.url}" in sentence


@ONE_LAKE
def test_a_warehouse_without_its_tables_is_told(fair: Any) -> None:
    open_engine(fair.config.warehouse).close()
    assert said(fair.config, "warehouse")[0][0] == "note"


@ONE_LAKE
def test_a_lake_that_cannot_be_written_is_told(fair: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(self: Lake, name: str, _data: bytes) -> None:
        raise StoreError(f"Writing {name} in {self.url} failed: read-only. Check who owns the lake.")

    monkeypatch.setattr(Lake, "write", refuse)
    ((state, sentence),) = said(fair.config, "writing")
    assert state == "bad"
    assert "Check who owns" in sentence


@ONE_LAKE
def test_a_clock_that_is_off_is_told(fair: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(Lake, "modified_at", lambda *_: datetime.now(UTC) - timedelta(minutes=10))
    ((state, sentence),) = said(fair.config, "clock")
    assert state == "bad"
    assert "differ by 600 s" in sentence


@ONE_LAKE
def test_a_full_disk_is_told(fair: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    usage = shutil.disk_usage("/")
    monkeypatch.setattr(shutil, "disk_usage", lambda _: usage._replace(free=10**6))
    assert {state for state, _ in said(fair.config, "room")} == {"bad"}
    assert all("Make room" in sentence for _, sentence in said(fair.config, "room"))


@ONE_LAKE
def test_a_store_without_its_library_is_told(fair: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("motelake.steps.doctor.STORES", {"s3": "no-such-library"})
    config = replace(fair.config, lake="s3://lake/none")
    monkeypatch.setenv("AWS_ENDPOINT_URL_S3", "http://127.0.0.1:1")
    monkeypatch.setenv("AWS_ACCESS_KEY_ID", "somebody")
    monkeypatch.setenv("AWS_SECRET_ACCESS_KEY", "never-shown")
    report = doctor(config)
    assert ("bad", "Not installed: no-such-library. Install them with pip.") in said(config, "versions")
    assert "never-shown" not in str(report)
    assert "http://127.0.0.1:1" in said(config, "store")[0][1]
