"""Published measurements turned into lakes: where they lie, and the whole main job run on them."""

import gzip
import json
import os
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from tempfile import TemporaryDirectory
from time import process_time
from typing import Any

import pytest

from motelake.config import read_config
from motelake.lake.store import Lake
from motelake.library import read_library
from motelake.steps import campaign
from motelake.steps.check import check
from motelake.steps.load import load
from motelake.steps.page import make_page
from motelake.steps.publish import publish_warehouse
from motelake.steps.stage import stage
from motelake.warehouse.store import open_warehouse

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
    """Writes a lake (its texts, its bursts by raw object) and runs stage, check, load and publish on it."""

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
        config = replace(read_config(str(folder)), work_folder=quick_folder)
        read = campaign.read(lake)
        staged = stage(lake, read, config, _say_nothing)
        assert (staged.refused, staged.passed_over, staged.rejected) == ((), (), {})
        assert check(lake, read, config, _say_nothing).held == ()
        load(lake, read, config, _say_nothing)
        # The snapshot only: the tests ask their own questions, and ready answers to all others take minutes.
        with open_warehouse(config) as engine:
            publish_warehouse(
                lake, engine, read_library(), _say_nothing, refresh=(), work_folder=config.work_folder
            )
        return lake

    return run_lake


@pytest.fixture(scope="session")
def make_pages() -> Callable[[Lake], Mapping[str, str]]:
    """Makes the page of a lake and its hall view, and counts the seconds of computing, which are bounded."""

    def make_pages(lake: Lake) -> Mapping[str, str]:
        began = process_time()
        pages = make_page(lake, read_config(lake.url), read_library(), now=datetime.now(UTC))
        # Wanted are 20 seconds on two cores; a machine that does other things as well needs more.
        assert process_time() - began < 40
        assert pages.failures == ()
        return {name: page.decode() for name, page in pages.files.items()}

    return make_pages


def _say_nothing(_sentence: str) -> None:
    return None
