"""A small campaign with everything in it that could make the way of delivery show, and what runs it.

Five motes over two hours across a UTC midnight: restarts, a gateway's flush after a restart, lost, late,
resent and overheard bursts, bursts in two parts, a mote that counts none, spikes, flat runs, moves.
"""

import json
import random
import subprocess
import sys
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path
from queue import Queue
from tempfile import TemporaryDirectory
from typing import Any

import pytest

from motelake.config import Config
from motelake.lake.store import Lake
from motelake.steps import campaign
from motelake.steps.check import check
from motelake.steps.fingerprint import fingerprint_warehouse
from motelake.steps.load import load
from motelake.steps.stage import stage
from motelake.warehouse.store import open_warehouse

BEGIN = datetime(2031, 5, 9, 23, 0, tzinfo=UTC)
SECONDS = 7200
FILES = {
    # Nothing is held, so that how lines are split over objects cannot matter.
    "campaign.toml": """\
title = "Depot Fair by night"
time_zone = "Europe/Lisbon"
starts_at = 2031-05-09T22:00:00Z
ends_at = 2031-05-10T04:00:00Z
burst_period_s = 20
[levels]
pit = 0.0
[baseline]
from = "00:00"
to = "00:30"
[limits]
reject_share = 1.0
unknown_mote_share = 1.0
outside_span_share = 1.0
batch_objects = 256
""",
    "register/zones.csv": """\
zone,level,title,kind,area_m2,x_m,y_m
hall,pit,Track hall,hall,,,
shed,pit,Seed shed,room,,,
""",
    "register/gateways.csv": """\
gateway,network,level,zone,x_m,y_m,hidden_at,note
G1,north,pit,hall,,,,
G2,south,pit,shed,,,,
""",
    "register/motes.csv": """\
mote,network,kit,level,zone,x_m,y_m,power,installed_at,removed_at,note,burst_period_s
M1,north,temperature+sound,pit,hall,,,mains,,,,
M2,north,temperature+sound,pit,hall,,,mains,,,,
M3,south,temperature+sound+footsteps,pit,shed,,,battery,,,,
M4,south,temperature+passages,pit,shed,,,battery,,,,
M5,south,temperature+footsteps+passages,pit,hall,,,battery,,,,30
""",
    "register/measures.csv": """\
measure,title,unit,kind,role,span_low,span_high,usual_low,usual_high,max_step,flat_after_min
temperature,Air temperature,Cel,level,temperature,-40,85,5,35,2,25
sound,Sound level,dB,decibel,sound,30,110,,,15,
footsteps,Footsteps,count,count,crowd,0,,,,,
passages,Passages,count,total,,0,,,,,
""",
    "register/placements.csv": """\
mote,from_at,level,zone,x_m,y_m,how,note
M2,2031-05-09T22:00:00Z,pit,hall,,,installed,
M2,2031-05-09T23:40:30Z,pit,shed,,,moved,
""",
    "programme/programme.csv": """\
event,title,kind,zone,starts_at,ends_at
E1,Night watch,walk,hall,2031-05-09T23:30:00Z,2031-05-10T00:10:00Z
""",
}


@dataclass(frozen=True)
class Burst:
    """What one mote sent once, and when."""

    mote: str
    seq: int | None
    sent_s: float
    readings: dict[str, float]


def invent_lines(seed: int) -> list[str]:
    """The lines of the whole campaign in the order of arrival; the same seed, the same lines."""
    chance = random.Random(seed)
    heard: list[tuple[float, str]] = []
    for mote in ("M1", "M2", "M3", "M4", "M5"):
        # Two of the motes sit behind a gateway that loses its uplink and delivers its store at once, later.
        flush = (chance.uniform(1500, 4000), chance.uniform(4500, 6500)) if mote in ("M2", "M3") else None
        for burst in _send(mote, chance):
            if chance.random() > 0.05:
                heard += _hear(burst, flush, chance)
    return [line for _, line in sorted(heard)]


def _send(mote: str, chance: random.Random) -> Iterator[Burst]:
    period_s = (30 if mote == "M5" else 20) * (1 + chance.uniform(-6e-5, 6e-5))
    restarts = sorted(chance.sample(range(600, SECONDS - 300), {"M1": 2, "M3": 2, "M5": 1}.get(mote, 0)))
    sent_s, seq, passed, spell = chance.uniform(0, 20), 0, 0, chance.randrange(SECONDS)
    while sent_s < SECONDS:
        if restarts and sent_s > restarts[0]:
            sent_s, seq, passed = restarts.pop(0) + chance.uniform(5, 60), 0, 0
        passed += chance.randrange(4)
        warmth = 20 + 0.001 * sent_s + chance.choice((0, 0.1, 0.2)) + (8 if chance.random() < 0.01 else 0)
        readings = {
            "temperature": 21.5 if spell < sent_s < spell + 2000 else round(warmth, 2),
            "sound": round(chance.gauss(55, 3), 1),
            "footsteps": float(chance.randrange(6)),
            "passages": float(passed),
        }
        kit = next(row.split(",")[2] for row in FILES["register/motes.csv"].split() if row.startswith(mote))
        yield Burst(
            mote, None if mote == "M4" else seq, sent_s, {name: readings[name] for name in kit.split("+")}
        )
        sent_s, seq = sent_s + period_s, seq + 1


def _hear(
    burst: Burst, flush: tuple[float, float] | None, chance: random.Random
) -> Iterator[tuple[float, str]]:
    """The arrivals of one burst: late, stored, resent, overheard or in two parts, by chance."""
    arrived_s = (
        burst.sent_s + chance.expovariate(2.5) + (chance.uniform(2, 9) if chance.random() < 0.02 else 0)
    )
    if flush and flush[0] < burst.sent_s < flush[1]:
        arrived_s = flush[1]
    gateway = "G1" if burst.mote in ("M1", "M2") else "G2"
    names = list(burst.readings)
    is_parted = burst.mote == "M5" and chance.random() < 0.3
    for part in (names[:1], names[1:]) if is_parted else (names,):
        readings = {name: burst.readings[name] for name in part}
        yield arrived_s, _line(burst, gateway, arrived_s, readings)
        if chance.random() < 0.04:
            yield arrived_s + 1, _line(burst, gateway, arrived_s + chance.uniform(0.2, 4), readings)
        if chance.random() < 0.04:
            yield arrived_s, _line(burst, "G1" if gateway == "G2" else "G2", arrived_s + 0.05, readings)


def _line(burst: Burst, gateway: str, arrived_s: float, readings: dict[str, float]) -> str:
    received_at = BEGIN + timedelta(milliseconds=round(arrived_s * 1000))
    record: dict[str, Any] = {
        "gateway": gateway,
        "mote": burst.mote,
        "received_at": received_at.isoformat(timespec="milliseconds"),
        "battery_v": 3.0,
        "readings": readings,
    }
    return json.dumps(record | ({} if burst.seq is None else {"seq": burst.seq}))


@dataclass
class Site:
    """A lake and its warehouse in a folder of their own."""

    folder: Path
    files: dict[str, str] = field(default_factory=lambda: dict(FILES))

    def __post_init__(self) -> None:
        self.write_files(self.files)

    @property
    def config(self) -> Config:
        return Config(str(self.folder / "lake"), self.folder / "lake.duckdb", "1GB", 2, self.folder)

    @property
    def lake(self) -> Lake:
        return Lake.open(str(self.folder / "lake"))

    def write_files(self, files: dict[str, str]) -> None:
        for name, text in files.items():
            path = self.folder / "lake" / name
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_text(text, encoding="utf-8")

    def deliver(self, name: str, lines: Sequence[str]) -> None:
        self.write_files({f"raw/{name}": "".join(line + "\n" for line in lines)})

    def run(self) -> None:
        """Stages, checks and loads what is there."""
        lake = self.lake
        read = campaign.read(lake)
        for step in (stage, check, load):
            step(lake, read, self.config, _say_nothing)
        self.check_accounts()

    def fingerprint(self) -> dict[str, str]:
        return fingerprint_warehouse(self.config)

    def counts(self) -> tuple[int, int, int, int]:
        """Lines read, staged, duplicate and rejected over all raw objects."""
        with open_warehouse(self.config) as engine:
            (row,) = engine.execute(
                "select sum(read), sum(staged), sum(duplicates), sum(rejected) from raw_object"
            ).fetchall()
        return row[0], row[1], row[2], row[3]

    def check_accounts(self) -> None:
        """Every line delivered is read, and read = staged + duplicates + rejected, object by object."""
        with open_warehouse(self.config) as engine:
            rows = engine.execute(
                "select object, read, staged, duplicates, rejected from raw_object"
            ).fetchall()
        for name, read, staged, duplicates, rejected in rows:
            assert min(staged, duplicates, rejected) >= 0
            assert read == staged + duplicates + rejected, name
        delivered = {
            info.name: sum(bool(line.strip()) for line in self.lake.read(info.name).splitlines())
            for info in self.lake.list("raw")
        }
        assert {name: read for name, read, *_ in rows} == delivered


class Mortals:
    """Servers that run motelake and kill it when told to; each takes one run at a time."""

    def __init__(self) -> None:
        command = [sys.executable, str(Path(__file__).with_name("mortal.py"))]
        self._all = [
            subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)
            for _ in range(2)
        ]
        self._free: Queue[subprocess.Popen[str]] = Queue()
        for one in self._all:
            self._free.put(one)

    def run(
        self,
        folder: Path,
        *,
        die_at: int | None = None,
        die_after_s: float | None = None,
        file_bytes: int | None = None,
        places: Path | None = None,
        compact_in_h: float | None = None,
    ) -> int:
        """The exit code of a run on the lake in this folder, -9 where it was killed.

        file_bytes: no file may become longer, as on a disk that is full. compact_in_h: not a run, but a
        compaction so many hours from now.
        """
        config: dict[str, Any] = {
            "lake": f"{folder}/lake",
            "warehouse": f"{folder}/lake.duckdb",
            "work_folder": str(folder),
        }
        config |= {"memory": "1GB", "threads": 1}
        death = {"die_at": die_at, "die_after_s": die_after_s, "file_bytes": file_bytes}
        asked = {"config": config, "places": places and str(places), "compact_in_h": compact_in_h} | death
        server = self._free.get()
        try:
            assert server.stdin is not None
            assert server.stdout is not None
            server.stdin.write(json.dumps(asked) + "\n")
            server.stdin.flush()
            return int(json.loads(server.stdout.readline())["code"])
        finally:
            self._free.put(server)

    def close(self) -> None:
        for one in self._all:
            one.communicate()


def _say_nothing(_sentence: str) -> None:
    return None


@pytest.fixture(scope="session")
def laws_folder(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    """A folder in memory where the system has one; a killed process loses nothing of either kind."""
    memory = Path("/dev/shm")
    with TemporaryDirectory(dir=memory if memory.is_dir() else tmp_path_factory.getbasetemp()) as folder:
        yield Path(folder)


@pytest.fixture
def make_site(laws_folder: Path) -> Iterator[Callable[..., Site]]:
    """Makes sites; gone after the test."""
    with TemporaryDirectory(dir=laws_folder) as folder:

        def make(title: str, **changed: str) -> Site:
            return Site(Path(folder) / title, FILES | changed)

        yield make


@pytest.fixture(scope="session")
def mortals() -> Iterator[Mortals]:
    """Runs of motelake in processes of their own, two at a time."""
    servers = Mortals()
    yield servers
    servers.close()


@pytest.fixture(scope="session")
def site_of() -> Callable[[Path], Site]:
    """Makes a site in a folder that is the caller's."""
    return Site


@pytest.fixture(scope="session")
def invent() -> Callable[[int], list[str]]:
    return invent_lines
