"""A store that fails, a full disk, a second run at once: said so, and clean after the next run."""

import errno
import random
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING, Any

import fsspec
import pytest
from fsspec.implementations.local import LocalFileSystem

from motelake.config import Config
from motelake.errors import LockedError, SurroundingsError
from motelake.lake.store import Lake
from motelake.steps import campaign
from motelake.steps.fingerprint import fingerprint_warehouse
from motelake.steps.read import open_snapshot
from motelake.steps.refresh_page import Made
from motelake.steps.run import run
from motelake.warehouse.fingerprint import fingerprint
from motelake.warehouse.store import open_warehouse

if TYPE_CHECKING:
    from tests.laws.conftest import Mortals, Site

    MakeSite = Callable[..., Site]
    SiteOf = Callable[[Path], Site]
    Invent = Callable[[int], list[str]]


class Weather:
    """How bad the line to the store is: the share of calls that fail, and what chance says."""

    share = 0.0
    is_full = False
    chance = random.Random(0)
    faults = 0

    @classmethod
    def strike(cls) -> bool:
        struck = cls.chance.random() < cls.share
        cls.faults += struck
        return struck


def _shaken(name: str) -> Callable[..., Any]:
    deed = getattr(LocalFileSystem, name)

    def do(self: LocalFileSystem, *given: Any, **named: Any) -> Any:
        if Weather.is_full and name in ("pipe_file", "put_file"):
            raise OSError(errno.ENOSPC, "No space left on device")
        if Weather.strike():
            raise OSError(errno.EIO, "the store answered 503")
        outcome = deed(self, *given, **named)
        if Weather.strike():
            # The worst of all: it was done, but nobody was told.
            raise TimeoutError("the store did not answer")
        return outcome

    return do


def _find_late(self: LocalFileSystem, path: str, **named: Any) -> Any:
    if Weather.strike():
        raise TimeoutError("the store did not answer")
    found = LocalFileSystem.find(self, path, **named)
    late = [name for name in found if Weather.strike()]
    return {name: entry for name, entry in found.items() if name not in late}


def _strip(cls: type[LocalFileSystem], path: Any) -> Any:
    if isinstance(path, list):
        return [cls._strip_protocol(one) for one in path]
    return LocalFileSystem._strip_protocol(str(path).removeprefix("shaky://"))


_SHAKEN = ("cat_file", "pipe_file", "put_file", "get_file", "isfile", "rm_file")
# A folder behind a bad line: to a lake it is a store like any other that is no folder.
ShakyFileSystem = type(
    "ShakyFileSystem",
    (LocalFileSystem,),
    {
        "protocol": "shaky",
        "cachable": False,
        "_strip_protocol": classmethod(_strip),
        "find": _find_late,
        **{
            name: _shaken(name)
            for name in ("cat_file", "pipe_file", "put_file", "get_file", "isfile", "rm_file")
        },
    },
)


@pytest.fixture
def weather() -> Iterator[type[Weather]]:
    """Calm, until a test makes it bad."""
    fsspec.register_implementation("shaky", ShakyFileSystem, clobber=True)
    Weather.share, Weather.is_full, Weather.faults = 0.0, False, 0
    yield Weather
    Weather.share, Weather.is_full = 0.0, False


@pytest.fixture(scope="module")
def whole(laws_folder: Path, invent: "Invent", mortals: "Mortals", site_of: "SiteOf") -> "Site":
    """An undisturbed run on three objects."""
    site = _deliver(site_of(laws_folder / "whole"), invent)
    assert mortals.run(site.folder) == 0
    return site


def _deliver(site: "Site", invent: "Invent") -> "Site":
    lines = invent(3)
    for number in range(3):
        site.deliver(f"{number}.jsonl", lines[number::3])
    return site


def _snapshot(site: "Site") -> dict[str, str]:
    with open_snapshot(site.lake) as reader:
        return fingerprint(reader)


def _run_shaken(site: "Site") -> None:
    config = Config(f"shaky://{site.folder}/lake", site.folder / "lake.duckdb", "1GB", 1, site.folder)
    lake = Lake.open(config.lake, auto_mkdir=True)
    run(lake, campaign.read(lake), config, _say_nothing)


@pytest.mark.parametrize("seed", range(6))
def test_a_store_that_fails_on_one_call_of_twenty_is_said_to_and_costs_nothing(
    *,
    make_site: "MakeSite",
    invent: "Invent",
    whole: "Site",
    weather: type[Weather],
    monkeypatch: pytest.MonkeyPatch,
    seed: int,
) -> None:
    if seed:
        # The page takes longer than all the rest, and fails like any other write.
        monkeypatch.setattr("motelake.steps.refresh_page.refresh_page", lambda *_, **__: Made(is_made=False))
    site = _deliver(make_site("shaken"), invent)
    weather.share, weather.chance = 0.05, random.Random(seed)
    for _ in range(4):
        with suppress(SurroundingsError):
            _run_shaken(site)
    assert weather.faults > 0
    weather.share = 0.0
    _run_shaken(site)
    assert fingerprint_warehouse(site.config) == whole.fingerprint()
    assert _snapshot(site) == _snapshot(whole)
    site.check_accounts()


def test_a_full_store_is_said_to_be_full(
    make_site: "MakeSite", invent: "Invent", whole: "Site", weather: type[Weather]
) -> None:
    site = _deliver(make_site("full"), invent)
    weather.is_full = True
    with pytest.raises(SurroundingsError, match="The disk is full: make room"):
        _run_shaken(site)
    weather.is_full = False
    _run_shaken(site)
    assert fingerprint_warehouse(site.config) == whole.fingerprint()


@pytest.mark.parametrize("file_bytes", [2_000, 20_000, 100_000, 400_000, 800_000])
def test_a_disk_that_is_full_ends_a_run_with_exit_code_three_and_the_next_one_is_whole(
    make_site: "MakeSite", invent: "Invent", whole: "Site", mortals: "Mortals", file_bytes: int
) -> None:
    site = _deliver(make_site("full"), invent)
    assert mortals.run(site.folder, file_bytes=file_bytes) in (3, 0)
    assert mortals.run(site.folder) == 0
    assert (site.fingerprint(), _snapshot(site)) == (whole.fingerprint(), _snapshot(whole))


def test_a_run_that_finds_the_warehouse_taken_says_so_and_changes_nothing(
    make_site: "MakeSite", invent: "Invent", whole: "Site", mortals: "Mortals"
) -> None:
    site = _deliver(make_site("taken"), invent)
    with open_warehouse(site.config):
        assert mortals.run(site.folder) == LockedError.exit_code == 3
    assert mortals.run(site.folder) == 0
    assert site.fingerprint() == whole.fingerprint()


def test_of_two_runs_at_once_one_works_and_the_other_says_so_or_has_nothing_left_to_do(
    make_site: "MakeSite", invent: "Invent", whole: "Site", mortals: "Mortals"
) -> None:
    site = _deliver(make_site("both"), invent)
    with ThreadPoolExecutor(2) as workers:
        codes = sorted(workers.map(mortals.run, [site.folder] * 2))
    assert codes in ([0, 0], [0, 3])
    assert mortals.run(site.folder) == 0
    assert (site.fingerprint(), _snapshot(site)) == (whole.fingerprint(), _snapshot(whole))
    site.check_accounts()


def _say_nothing(_sentence: str) -> None:
    return None
