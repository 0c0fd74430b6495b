"""A compaction killed anywhere (kill -9) changes nothing that is asked, and the next one finishes it."""

import json
import os
import shutil
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from itertools import chain
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING

import pytest

from motelake.config import Config
from motelake.lake.store import Lake
from motelake.steps import campaign
from motelake.steps.fingerprint import fingerprint_warehouse
from motelake.steps.read import open_snapshot
from motelake.steps.rebuild import rebuild
from motelake.warehouse.fingerprint import fingerprint

if TYPE_CHECKING:
    from tests.laws.conftest import Mortals, Site

# All places of two compactions are some sixty; a quick look takes the first of each of these.
IS_LONG = int(os.environ.get("MOTELAKE_KILLS", "64")) > 64
TELLING = {
    "merges": (
        "after put_file staged",
        "after put_file rejects",
        "after create manifests",
        "after put_file published/parts",
        "after write published/current",
    ),
    "removes": ("after remove staged", "after remove rejects"),
}
A_DAY_H = 24.1


@dataclass(frozen=True)
class Scene:
    """A lake that was compacted a day ago, or never, and what it says whatever is done to its files."""

    mortals: "Mortals"
    before: Path
    content: dict[str, str]
    compact_in_h: float
    left: list[list[str]]
    places: list[str]

    def faults(self, number: int) -> list[str]:
        """What was wrong after a compaction died at a place and others followed."""
        with TemporaryDirectory(dir=self.before.parent) as folder:
            here = Path(folder) / "here"
            shutil.copytree(self.before, here)
            return [f"{number} {self.places[number]}: {fault}" for fault in self._faults(here, number)]

    def _faults(self, here: Path, number: int) -> Iterator[str]:
        if self.mortals.run(here, die_at=number, compact_in_h=self.compact_in_h) != -9:
            yield "it did not die"
        if _snapshot(here) != self.content or fingerprint_warehouse(_config(here)) != self.content:
            yield "the content changed"
        if self.mortals.run(here, compact_in_h=self.compact_in_h) != 0:
            yield "the next compaction failed"
        if _snapshot(here) != self.content:
            yield "the snapshot changed with the next compaction"
        # A day later nothing is left that a compaction without a death would not have left.
        if self.mortals.run(here, compact_in_h=self.compact_in_h + A_DAY_H) != 0:
            yield "the last compaction failed"
        if _files(here) != self.left:
            yield "other files are left"
        lake = Lake.open(str(here / "lake"))
        rebuild(lake, campaign.read(lake), _config(here), lambda _: None)
        if fingerprint_warehouse(_config(here)) != self.content:
            yield "a rebuild is not what it was"


@pytest.fixture(scope="module")
def lived(
    laws_folder: Path,
    invent: Callable[[int], list[str]],
    site_of: "Callable[[Path], Site]",
    mortals: "Mortals",
) -> Path:
    """A site of six batches on both sides of midnight, rejects in each, an object staged twice; all run."""
    site = site_of(laws_folder / "compaction" / "lived")
    plan = site.files["campaign.toml"].replace("batch_objects = 256", "batch_objects = 1")
    site.write_files({"campaign.toml": plan})
    lines = invent(4)
    for number in range(6):
        own = lines[number * len(lines) // 6 : (number + 1) * len(lines) // 6]
        site.deliver(f"{number}.jsonl", [*own, "broken"])
    site.deliver("6.jsonl", [line.replace('"M1"', '"M9"') for line in lines[:200]])
    assert mortals.run(site.folder) == 0
    motes = site.files["register/motes.csv"]
    site.write_files({"register/motes.csv": motes + "M9,north,temperature+sound,pit,hall,,,mains,,,,\n"})
    assert mortals.run(site.folder) == 0
    return site.folder


@pytest.mark.parametrize(("what", "compact_in_h"), [("merges", 0), ("removes", A_DAY_H)])
def test_a_compaction_killed_anywhere_is_finished_by_the_next(
    what: str, compact_in_h: float, lived: Path, mortals: "Mortals", tmp_path: Path
) -> None:
    before = lived.parent / f"before-{compact_in_h}"
    shutil.copytree(lived, before)
    if compact_in_h:
        assert mortals.run(before, compact_in_h=0) == 0
    undisturbed = lived.parent / f"undisturbed-{compact_in_h}"
    shutil.copytree(before, undisturbed)
    assert mortals.run(undisturbed, compact_in_h=compact_in_h, places=tmp_path / "places") == 0
    assert mortals.run(undisturbed, compact_in_h=compact_in_h + A_DAY_H) == 0
    places = json.loads((tmp_path / "places").read_text())
    content = fingerprint_warehouse(_config(lived))
    scene = Scene(mortals, before, content, compact_in_h, _files(undisturbed), places)
    numbers = [
        number
        for number, place in enumerate(places)
        if place != "statement" and "answers" not in place and "probe" not in place
    ]
    firsts = [next(number for number in numbers if places[number].startswith(kind)) for kind in TELLING[what]]
    with ThreadPoolExecutor(2) as workers:
        faults = list(workers.map(scene.faults, numbers if IS_LONG else firsts))
    assert list(chain.from_iterable(faults)) == []


def _config(folder: Path) -> Config:
    return Config(str(folder / "lake"), folder / "lake.duckdb", "1GB", 1, folder)


def _snapshot(folder: Path) -> dict[str, str]:
    with open_snapshot(Lake.open(str(folder / "lake"))) as reader:
        return fingerprint(reader)


def _files(folder: Path) -> list[list[str]]:
    """What is staged and rejected, and the parts that are published."""
    lake = Lake.open(str(folder / "lake"))
    return [[info.name for info in lake.list(name)] for name in ("staged", "rejects", "published/parts")]
