"""What an operator must be able to rely on for years: upgrades, backups, and knowing what is used."""

import os
import shutil
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from motelake.config import Config
from motelake.errors import DamagedError, InputError
from motelake.lake.store import Lake
from motelake.steps import campaign
from motelake.steps.check import check
from motelake.steps.compact import compact
from motelake.steps.decide import decide
from motelake.steps.disk import disk_use
from motelake.steps.fingerprint import fingerprint_warehouse
from motelake.steps.load import load
from motelake.steps.publish import publish
from motelake.steps.read import open_snapshot, read_current
from motelake.steps.rebuild import rebuild
from motelake.steps.refresh_page import Made
from motelake.steps.run import run
from motelake.steps.stage import stage
from motelake.warehouse.fingerprint import fingerprint
from motelake.warehouse.store import open_warehouse, write_state

# What DEVELOPERS.md says to keep; all else comes from it.
TO_KEEP = ("campaign.toml", "register", "programme", "context", "raw", "decisions")

pytestmark = pytest.mark.parametrize("fair", ["folder"], indirect=True)


def quietly(_sentence: str) -> None:
    return None


@pytest.fixture(autouse=True)
def no_page(monkeypatch: pytest.MonkeyPatch) -> None:
    """Nothing here is about the page, which costs more than the rest."""
    monkeypatch.setattr("motelake.steps.refresh_page.refresh_page", lambda *_, **__: Made(is_made=False))


@pytest.fixture
def run_fair(fair: Any) -> Any:
    """The small lake after a run, one of its objects held and admitted, one held and discarded."""
    fair.lake.write("programme/programme.csv", b"event,title,kind,zone,starts_at,ends_at\n")
    fair.deliver("day.jsonl", *(fair.line(seq) for seq in range(60)))
    for name in ("admitted", "discarded"):
        start = 100 if name == "admitted" else 200
        fair.deliver(f"{name}.jsonl", *(fair.line(start + seq) for seq in range(30)), *["broken"] * 30)
    run(fair.lake, fair.campaign, fair.config, quietly)
    decide(fair.lake, "raw/admitted.jsonl", "admit", quietly)
    decide(fair.lake, "raw/discarded.jsonl", "discard", quietly)
    run(fair.lake, fair.campaign, fair.config, quietly)
    return fair


@pytest.fixture
def fair_of_another(fair: Any, tmp_path: Path) -> Config:
    """The configuration of another lake, of another delivery, with its warehouse."""
    other = Path(tmp_path, "other")
    shutil.copytree(fair.lake.root, other, ignore=lambda *_: ["raw", "manifests", "staged", "published"])
    lake = Lake.open(str(other))
    lake.write("raw/other.jsonl", fair.line(7).encode())
    config: Config = replace(fair.config, lake=lake.url, warehouse=tmp_path / "other.duckdb")
    for step in (stage, check):
        step(lake, fair.campaign, config, quietly)
    load(lake, fair.campaign, config, quietly)
    return config


def overwrite_the_head(file: Path) -> None:
    """What a program does that takes the file for its own: other bytes in the first blocks."""
    with file.open("r+b") as opened:
        opened.seek(20)
        opened.write(b"U" * 4000)


def test_what_is_backed_up_gives_everything_back(run_fair: Any, tmp_path: Path) -> None:
    now = datetime.now(UTC)
    for later in (timedelta(0), timedelta(hours=25)):
        compact(run_fair.lake, run_fair.campaign, run_fair.config, quietly, refresh=(), now=now + later)
    content = fingerprint_warehouse(run_fair.config)
    backup, restored = tmp_path / "backup", tmp_path / "restored"
    for name in TO_KEEP:
        kept = Path(run_fair.lake.root, name)
        if kept.is_dir():
            shutil.copytree(kept, backup / name)
        elif kept.is_file():
            backup.mkdir(exist_ok=True)
            shutil.copy(kept, backup / name)

    shutil.copytree(backup, restored)
    lake = Lake.open(str(restored))
    config = replace(run_fair.config, lake=lake.url, warehouse=tmp_path / "restored.duckdb")
    report = run(lake, campaign.read(lake), config, quietly)
    assert not report.needs_attention, "the decisions were kept"
    assert fingerprint_warehouse(config) == content
    with open_snapshot(lake) as snapshot:
        assert fingerprint(snapshot) == content
        assert snapshot.execute("select count(*) from burst").fetchall() == [(90,)]


def test_a_warehouse_of_another_version_is_left_as_it_is_and_says_how_to_go_on(run_fair: Any) -> None:
    content = fingerprint_warehouse(run_fair.config)
    with open_warehouse(run_fair.config) as engine:
        write_state(engine, "schema_version", "1")
    size = run_fair.config.warehouse.stat().st_size
    with pytest.raises(InputError, match=r"tables are version 1, this one writes \d+.*motelake rebuild"):
        load(run_fair.lake, run_fair.campaign, run_fair.config, quietly)
    assert run_fair.config.warehouse.stat().st_size == size
    rebuild(run_fair.lake, run_fair.campaign, run_fair.config, quietly)
    assert fingerprint_warehouse(run_fair.config) == content


@pytest.mark.parametrize(
    "damage",
    [
        pytest.param(lambda file: file.write_bytes(b""), id="emptied"),
        pytest.param(lambda file: os.truncate(file, 5000), id="cut_short"),
        pytest.param(lambda file: file.write_bytes(b"no database" * 1000), id="another_file"),
        pytest.param(overwrite_the_head, id="overwritten"),
    ],
)
def test_a_damaged_warehouse_names_the_call_that_makes_it_again(
    run_fair: Any, damage: Callable[[Path], object]
) -> None:
    content = fingerprint_warehouse(run_fair.config)
    damage(run_fair.config.warehouse)
    for step in (
        lambda: load(run_fair.lake, run_fair.campaign, run_fair.config, quietly),
        lambda: publish(run_fair.lake, run_fair.config, quietly),
        lambda: fingerprint_warehouse(run_fair.config),
    ):
        with pytest.raises(DamagedError, match=f"motelake rebuild {run_fair.config.lake}"):
            step()
    rebuild(run_fair.lake, run_fair.campaign, run_fair.config, quietly)
    assert fingerprint_warehouse(run_fair.config) == content


def test_what_is_published_is_not_replaced_from_a_warehouse_that_is_gone_or_of_another_lake(
    run_fair: Any, fair_of_another: Config
) -> None:
    before = read_current(run_fair.lake)
    for config, said in (
        (replace(run_fair.config, warehouse=Path("nowhere.duckdb")), "There is no warehouse at"),
        (replace(run_fair.config, warehouse=fair_of_another.warehouse), "made from another lake"),
    ):
        with pytest.raises(InputError, match=said):
            publish(run_fair.lake, config, quietly)
    assert before is not None
    assert read_current(run_fair.lake) == before
    assert not Path("nowhere.duckdb").exists()


def test_the_bytes_of_a_lake_are_told_by_what_they_are_for(run_fair: Any) -> None:
    use = disk_use(run_fair.lake, run_fair.config)
    files = [path for path in Path(run_fair.lake.root).rglob("*") if path.is_file()]
    inputs = ("campaign.toml", "register/", "programme/")
    written = [path for path in files if not str(path.relative_to(run_fair.lake.root)).startswith(inputs)]
    assert sum(use.lake.values()) == sum(path.stat().st_size for path in written)
    assert use.lake["raw"] == sum(info.size for info in run_fair.lake.list("raw"))
    assert use.warehouse == run_fair.config.warehouse.stat().st_size
    assert use.free is not None
    assert use.free > 0
