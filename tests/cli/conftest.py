"""The command called as a shell calls it, and a rehearsed lake that ran once for all tests here."""

import io
import os
import sys
from collections.abc import Callable
from contextlib import closing, redirect_stderr, redirect_stdout
from dataclasses import dataclass
from pathlib import Path
from unittest import mock

import pytest

from motelake.cli import main
from motelake.config import read_config
from motelake.lake.store import Lake
from motelake.library import read_library
from motelake.rehearsal import Plan, rehearse
from motelake.steps import campaign
from motelake.steps.check import check
from motelake.steps.load import load
from motelake.steps.publish import publish_warehouse
from motelake.steps.stage import stage
from motelake.warehouse.store import open_warehouse

PROGRAM = (sys.executable, "-c", "from motelake.cli import main; main()")


@dataclass(frozen=True)
class Ended:
    """How a call ended."""

    code: int
    out: str
    err: str


Call = Callable[..., Ended]


def call_motelake(*arguments: str, **environment: str) -> Ended:
    """Calls the command in this process, without MOTELAKE_* but those given."""
    clean = {name: value for name, value in os.environ.items() if not name.startswith("MOTELAKE_")}
    out, err = (io.TextIOWrapper(io.BytesIO(), encoding="utf-8") for _ in range(2))
    with (
        mock.patch.dict(os.environ, clean | environment, clear=True),
        redirect_stdout(out),
        redirect_stderr(err),
        pytest.raises(SystemExit) as ended,
    ):
        main(arguments)
    return Ended(int(ended.value.code or 0), *(_text(stream) for stream in (out, err)))


def _text(stream: io.TextIOWrapper) -> str:
    stream.flush()
    stream.seek(0)
    return stream.read()


@pytest.fixture(scope="session")
def program() -> tuple[str, ...]:
    """What starts the command."""
    return PROGRAM


@pytest.fixture(scope="session")
def motelake() -> Call:
    return call_motelake


@pytest.fixture(scope="session")
def ran(tmp_path_factory: pytest.TempPathFactory) -> str:
    """A rehearsed lake of one day, staged, checked, loaded and published; one of its raw objects is held."""
    folder = tmp_path_factory.mktemp("ran") / "fair"
    rehearse(folder, Plan(motes=6, days=1, seed=3))
    lake, config = Lake.open(str(folder)), read_config(str(folder), environment={})
    for step in (stage, check, load):
        step(lake, campaign.read(lake), config, lambda _: None)
    # The page would take longer than all the rest.
    with closing(open_warehouse(config)) as engine:
        publish_warehouse(lake, engine, read_library(), lambda _: None)
    return str(folder)


@pytest.fixture
def unstaged(tmp_path: Path) -> str:
    """A small lake with two good lines and one without a mote."""
    files = {
        "campaign.toml": [
            'title = "Small fair"',
            'time_zone = "Europe/Lisbon"',
            "starts_at = 2031-05-09T04:00:00Z",
            "ends_at = 2031-05-11T00:00:00Z",
            "burst_period_s = 20",
            "levels = {track = 3.1}",
        ],
        "register/motes.csv": [
            "mote,network,kit,level,zone,x_m,y_m,power,installed_at,removed_at,note",
            "M1,north,temperature,track,hall,,,mains,,,",
        ],
        "register/gateways.csv": [
            "gateway,network,level,zone,x_m,y_m,hidden_at,note",
            "G1,north,track,hall,,,,",
        ],
        "register/zones.csv": ["zone,level,title,kind,area_m2,x_m,y_m", "hall,track,Hall,hall,600,,"],
        "register/measures.csv": [
            "measure,title,unit,kind,role,span_low,span_high,usual_low,usual_high,max_step,flat_after_min",
            "temperature,Air,Cel,level,temperature,-40,85,,,,",
        ],
        "raw/day.jsonl": [
            '{"mote":"M1","seq":0,"received_at":"2031-05-09T07:00:00Z","readings":{"temperature":21.5}}',
            '{"mote":"M1","seq":1,"received_at":"2031-05-09T07:00:20Z","readings":{"temperature":21.6}}',
            '{"seq":2,"received_at":"2031-05-09T07:00:40Z","readings":{"temperature":21.7}}',
        ],
    }
    for name, lines in files.items():
        file = tmp_path / "small" / name
        file.parent.mkdir(parents=True, exist_ok=True)
        file.write_text("\n".join(lines) + "\n")
    return str(tmp_path / "small")
