"""A run killed anywhere (kill -9) is made good by the next one, and readers meet whole snapshots only.

The lake has been run and published once. Then come more bursts and a corrected register, and the run that
takes them in is killed: before and after everything it writes to the lake, at each commit of the warehouse,
at statements within its transactions and at any instant. Five more are killed as the command people call.
"""

import json
import os
import random
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING, Any

import pytest

from motelake.config import Config
from motelake.lake.store import Lake
from motelake.steps.fingerprint import fingerprint_warehouse
from motelake.steps.read import open_snapshot
from motelake.warehouse.fingerprint import fingerprint

if TYPE_CHECKING:
    from tests.laws.conftest import Mortals, Site

    SiteOf = Callable[[Path], Site]

# How many runs are killed: some 60, or as many as a longer run is told to.
KILLS = int(os.environ.get("MOTELAKE_KILLS", "64"))
LATER = "2031-05-10T00:20:00Z"

# What the command has just written when it is killed, beside what was there: one of each step, and the last.
SIGHTS = (
    "lake/staged/*/*.parquet",
    "lake/validation/*.json",
    "lake.duckdb*",
    "lake/published/parts/**/*.parquet",
    "lake/published/current.json",
)


@dataclass(frozen=True)
class Scene:
    """The lake before the run that is killed, and what an undisturbed run makes of it."""

    mortals: "Mortals"
    before: Path
    old_snapshot: dict[str, str]
    warehouse: dict[str, str]
    snapshot: dict[str, str]
    places: list[str]
    seconds: float

    def survive(self, title: str, **death: Any) -> str | None:
        """What was wrong after a run died so and another one followed; None where nothing was."""
        with TemporaryDirectory(dir=self.before.parent) as folder:
            place = Path(folder) / "here"
            shutil.copytree(self.before, place)
            code = self.mortals.run(place, **death)
            if code not in ((-9,) if "die_at" in death else (-9, 0)):
                return f"{title}: the run ended with {code}"
            fault = self.go_on(place)
            return fault and f"{title}: {fault}"

    def go_on(self, place: Path) -> str | None:
        """What is wrong where a run died and when another one has followed; None where nothing is."""
        if _snapshot(place) not in (self.old_snapshot, self.snapshot):
            return "a reader met something half made"
        if (code := self.mortals.run(place)) != 0:
            return f"the next run ended with {code}"
        if fingerprint_warehouse(_config(place)) != self.warehouse:
            return "the warehouse is not what it would have been"
        if _snapshot(place) != self.snapshot:
            return "the snapshot is not what it would have been"
        return None

    def survive_all(self, deaths: dict[str, dict[str, Any]]) -> None:
        with ThreadPoolExecutor(2) as workers:
            faults = list(workers.map(lambda title: self.survive(title, **deaths[title]), deaths))
        assert [fault for fault in faults if fault] == []


@pytest.fixture(scope="module")
def scene(
    laws_folder: Path, invent: Callable[[int], list[str]], site_of: "SiteOf", mortals: "Mortals"
) -> Scene:
    folder = laws_folder / "exactly-once"
    site = site_of(folder / "before")
    lines, files = invent(1), dict(site.files)
    placements = files["register/placements.csv"]
    site.write_files({"register/placements.csv": placements.replace("2031-05-09T23:40:30Z", LATER)})
    half = len(lines) // 2
    site.deliver("one.jsonl", lines[:half])
    assert mortals.run(site.folder) == 0
    old_snapshot = _snapshot(site.folder)
    # The second object repeats some of the first; the third comes before both in time.
    site.deliver("two.jsonl", lines[half - 200 : half + 600])
    site.deliver("three.jsonl", [*lines[half + 600 :], "broken", *lines[:50]])
    site.write_files(files)
    shutil.copytree(site.folder, folder / "undisturbed")
    log = folder / "places.json"
    began = time.monotonic()
    assert mortals.run(folder / "undisturbed", places=log) == 0
    seconds = time.monotonic() - began
    return Scene(
        mortals,
        site.folder,
        old_snapshot,
        fingerprint_warehouse(_config(folder / "undisturbed")),
        _snapshot(folder / "undisturbed"),
        json.loads(log.read_text()),
        seconds,
    )


def _points(places: list[str]) -> list[int]:
    """The places where something is committed; after one of many alike is as before the next."""
    lasting = ("create", "engine commit", "write published/current", "put_file staged", "put_file rejects")
    after = tuple(f"after {what}" for what in (*lasting, "put_file published/snapshots"))
    return [number for number, place in enumerate(places) if place.startswith(("before", *after))]


def test_a_run_killed_at_any_commit_point_is_made_good(scene: Scene) -> None:
    numbers = _points(scene.places)
    points = {f"{number} {scene.places[number]}": {"die_at": number} for number in numbers}
    for kind in ("create manifests", "put_file staged", "engine commit", "write published/current.json"):
        assert any(f"before {kind}" in title for title in points), kind
    assert len(points) >= 40
    scene.survive_all(points)


def test_a_run_killed_within_a_transaction_or_at_any_instant_is_made_good(scene: Scene) -> None:
    chance = random.Random(1)
    kills = max(20, KILLS - len(_points(scene.places)))
    statements = [number for number, place in enumerate(scene.places) if place == "statement"]
    chosen = chance.sample(statements, kills // 2)
    instants = [chance.uniform(0, scene.seconds) for _ in range(kills - len(chosen))]
    scene.survive_all(
        {f"statement {number}": {"die_at": number} for number in chosen}
        | {f"after {instant:.3f} s": {"die_after_s": instant} for instant in instants}
    )


@pytest.mark.parametrize("sight", SIGHTS)
def test_the_command_with_prefect_in_it_is_killed_as_soon_as_something_new_is_seen(
    scene: Scene, sight: str, tmp_path: Path, prefect_folder: Path
) -> None:
    place = tmp_path / "here"
    shutil.copytree(scene.before, place)
    shutil.copytree(prefect_folder, tmp_path / "prefect")
    at_first = _seen(place, sight)
    process = subprocess.Popen(
        (sys.executable, "-c", "from motelake.cli import main; main()", "run", str(place / "lake")),
        env=_without_prefect() | {"HOME": str(tmp_path), "PREFECT_HOME": str(tmp_path / "prefect")},
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )
    try:
        while _seen(place, sight) == at_first:
            assert process.poll() is None, f"it ended with {process.returncode} and made no {sight}"
            time.sleep(0.001)
    finally:
        process.kill()
    assert process.wait() == -signal.SIGKILL
    assert scene.go_on(place) is None


def _seen(place: Path, sight: str) -> set[tuple[str, int]]:
    """The files that match, with the times at which they were written."""
    found = set()
    for path in place.glob(sight):
        # What is there only for a moment may be gone.
        with suppress(FileNotFoundError):
            found.add((path.name, path.stat().st_mtime_ns))
    return found


def _without_prefect() -> dict[str, str]:
    """The environment of somebody who has set nothing of ours nor of Prefect."""
    return {name: value for name, value in os.environ.items() if not name.startswith(("PREFECT", "MOTELAKE"))}


def _config(folder: Path) -> Config:
    return Config(str(folder / "lake"), folder / "lake.duckdb", "1GB", 1, folder)


def _snapshot(folder: Path) -> dict[str, str]:
    with open_snapshot(Lake.open(str(folder / "lake"))) as reader:
        return fingerprint(reader)
