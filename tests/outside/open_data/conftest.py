"""Published measurements turned into lakes: where they lie, and the whole main job run on them."""

import gzip
import json
import os
from collections.abc import Callable, Iterable, Iterator, Mapping
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import pytest

from motelake.config import read_config
from motelake.lake.store import Lake
from motelake.steps import campaign
from motelake.steps.run import run

PROJECT = Path(__file__).parents[3]


def _open_data() -> Path:
    """The folder of published data sets; a relative one is taken from the project's root."""
    return PROJECT / os.environ.get("MOTELAKE_OPEN_DATA", "../shared/open_data")


@pytest.fixture(scope="session")
def find_data() -> Callable[[str], Path]:
    """Finds one published file; the tests that need it are skipped by name where it is absent."""

    def find(name: str) -> Path:
        path = _open_data() / name
        if not path.is_file():
            pytest.skip(f"open data {name} is not in {_open_data()}; set MOTELAKE_OPEN_DATA to its folder")
        return path

    return find


@pytest.fixture(scope="session")
def quick_folder(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    """A folder in memory where the system has one: 15 weeks are 10,000 hourly parts, each synced to disk."""
    memory = Path("/dev/shm")
    with TemporaryDirectory(dir=memory if memory.is_dir() else tmp_path_factory.getbasetemp()) as folder:
        yield Path(folder)


@pytest.fixture(scope="session")
def run_lake(quick_folder: Path) -> Callable[[str, Mapping[str, str], Mapping[str, Iterable[Any]]], Lake]:
    """Writes a lake (its text files, and its bursts by raw object) and runs the whole main job on it."""

    def run_lake(
        title: str, texts: Mapping[str, str], bursts: Mapping[str, Iterable[Mapping[str, Any]]]
    ) -> Lake:
        folder = quick_folder / title
        for name, text in texts.items():
            (folder / name).parent.mkdir(parents=True, exist_ok=True)
            (folder / name).write_text(text, encoding="utf-8")
        for name, rows in bursts.items():
            lines = "".join(json.dumps(row) + "\n" for row in rows)
            (folder / name).parent.mkdir(parents=True, exist_ok=True)
            (folder / name).write_bytes(gzip.compress(lines.encode()))
        lake = Lake.open(str(folder))
        config = read_config(str(folder), flags={"work_folder": quick_folder})
        report = run(lake, campaign.read(lake), config, lambda _sentence: None)
        assert (report.stage.refused, report.stage.passed_over, report.stage.rejected) == ((), (), {})
        assert report.check.held == ()
        return lake

    return run_lake
