"""The laws on an object store: the same content as in a folder, whoever stages, dies or lists late."""

import json
import random
import subprocess
import sys
from collections import Counter
from collections.abc import Callable, Mapping
from contextlib import closing
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from motelake.config import Config
from motelake.lake.chain import read_manifests
from motelake.lake.store import Lake
from motelake.steps import campaign
from motelake.steps.fingerprint import fingerprint_warehouse
from motelake.steps.read import open_snapshot
from motelake.steps.run import run
from motelake.warehouse.fingerprint import fingerprint

if TYPE_CHECKING:
    from tests.laws.conftest import Site

OBJECTS = 12
STAGE = (
    "import sys; from motelake.config import Config; from motelake.lake.store import Lake; "
    "from motelake.steps import campaign; from motelake.steps.stage import stage; from pathlib import Path; "
    "lake = Lake.open(sys.argv[1]); read = campaign.read(lake); "
    "print('ready', flush=True); sys.stdin.readline(); "
    "stage(lake, read, Config(sys.argv[1], Path(sys.argv[2]), '1GB', 1), lambda _: None)"
)


@dataclass(frozen=True)
class Host:
    """A machine with a warehouse of its own, at work on a lake in the store."""

    lake: Lake
    folder: Path

    @property
    def config(self) -> Config:
        return Config(self.lake.url, self.folder / "host.duckdb", "1GB", 1, self.folder)

    def run(self, lake: Lake | None = None) -> None:
        lake = lake or Lake.open(self.lake.url)
        run(lake, campaign.read(lake), self.config, lambda _: None)

    def fingerprints(self) -> tuple[dict[str, str], dict[str, str]]:
        """Of the warehouse, and of what a reader of the store meets."""
        with closing(open_snapshot(self.lake)) as snapshot:
            return fingerprint_warehouse(self.config), fingerprint(snapshot)


@pytest.fixture(scope="module")
def delivery(
    laws_folder: Path, invent: Callable[[int], list[str]], site_of: "Callable[[Path], Site]"
) -> tuple[dict[str, bytes], dict[str, str]]:
    """The files of a lake with twelve raw objects, two a batch, and what a run on a folder makes of it."""
    lines = invent(3)
    site = site_of(laws_folder / "store-laws")
    plan = site.files["campaign.toml"].replace("batch_objects = 256", "batch_objects = 2")
    site.write_files({"campaign.toml": plan})
    for number in range(OBJECTS):
        site.deliver(f"{number:02}.jsonl", lines[number::OBJECTS])
    top = site.folder / "lake"
    files = {str(path.relative_to(top)): path.read_bytes() for path in top.rglob("*") if path.is_file()}
    site.run()
    return files, site.fingerprint()


@pytest.fixture
def host(delivery: tuple[Mapping[str, bytes], object], store_lake: Lake, tmp_path: Path) -> Host:
    """A host whose lake in the store holds the delivery, nothing of it staged."""
    for name, data in delivery[0].items():
        store_lake.write(name, data)
    return Host(store_lake, tmp_path)


@pytest.fixture
def expected(delivery: tuple[object, dict[str, str]]) -> dict[str, str]:
    return delivery[1]


def stagings(lake: Lake) -> Counter[str]:
    """How often each raw object was staged."""
    return Counter(staged.name for manifest in read_manifests(lake) for staged in manifest.objects)


def test_a_store_gives_what_a_folder_gives(host: Host, expected: dict[str, str]) -> None:
    host.run()
    assert host.fingerprints() == (expected, expected)


def test_two_hosts_that_stage_at_once_stage_nothing_twice_and_lose_nothing(
    host: Host, expected: dict[str, str]
) -> None:
    command = [sys.executable, "-c", STAGE, host.lake.url, str(host.folder / "none.duckdb")]
    hosts = [
        subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True) for _ in range(2)
    ]
    for one in hosts:
        assert one.stdout is not None
        assert one.stdout.readline() == "ready\n"
    for one in hosts:
        assert one.stdin is not None
        one.stdin.write("go\n")
        one.stdin.flush()
    for one in hosts:
        one.communicate(timeout=120)
        assert one.returncode == 0
    assert stagings(host.lake) == {f"raw/{number:02}.jsonl": 1 for number in range(OBJECTS)}
    host.run()
    assert host.fingerprints() == (expected, expected)


def test_a_run_killed_anywhere_is_made_good(host: Host, expected: dict[str, str]) -> None:
    """One run after another is killed before it does its next few writes, until one comes through."""
    settings = asdict(host.config) | {
        "warehouse": str(host.config.warehouse),
        "work_folder": str(host.folder),
    }
    mortal = Path(__file__).with_name("mortal.py")
    deaths = 0
    with subprocess.Popen(
        [sys.executable, str(mortal)], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    ) as server:
        assert server.stdin is not None
        assert server.stdout is not None
        for die_at in (3, 0, 8, 14, 21, 2, 60, 100, 140, 1000):
            asked = dict.fromkeys(("die_after_s", "file_bytes", "places", "compact_in_h"))
            asked |= {"config": settings, "die_at": die_at}
            server.stdin.write(json.dumps(asked) + "\n")
            server.stdin.flush()
            code = json.loads(server.stdout.readline())["code"]
            assert code in (0, -9)
            deaths += code == -9
        server.stdin.close()
    assert deaths >= 6
    host.run()
    assert host.fingerprints() == (expected, expected)
    assert set(stagings(host.lake).values()) == {1}


def test_what_a_listing_shows_late_is_only_taken_in_later(
    host: Host, expected: dict[str, str], monkeypatch: pytest.MonkeyPatch
) -> None:
    filesystem, chance = host.lake.filesystem, random.Random(5)
    find_all = filesystem.find

    def find(path: str, **options: Any) -> dict[str, Any]:
        """Asked by name a store has all its objects; in its listing some do not stand yet."""
        found = find_all(path, **options)
        return {name: one for name, one in found.items() if "/raw/" not in name or chance.random() < 0.5}

    taken = []
    with monkeypatch.context() as late:
        late.setattr(filesystem, "find", find)
        for _ in range(3):
            host.run()
            taken.append(len(stagings(host.lake)))
    assert 0 < taken[0] < OBJECTS
    host.run()
    assert host.fingerprints() == (expected, expected)
    assert set(stagings(host.lake).values()) == {1}
