"""A small lake, and Prefect with a database of its own that sends nothing anywhere."""

import socket
from collections.abc import Iterator
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path

import pytest

from motelake.jobs.quiet import quieten_prefect


@dataclass(frozen=True)
class Place:
    """A lake in a folder, and its warehouse beside it."""

    lake: str
    warehouse: str


FILES = {
    "campaign.toml": """\
title = "Small fair"
time_zone = "Europe/Lisbon"
starts_at = 2031-05-09T04:00:00Z
ends_at = 2031-05-11T00:00:00Z
burst_period_s = 20
levels = {track = 3.1}
""",
    "register/motes.csv": """\
mote,network,kit,level,zone,x_m,y_m,power,installed_at,removed_at,note
M1,north,temperature,track,hall,,,mains,,,
""",
    "register/gateways.csv": """\
gateway,network,level,zone,x_m,y_m,hidden_at,note
G1,north,track,hall,,,,
""",
    "register/zones.csv": """\
zone,level,title,kind,area_m2,x_m,y_m
hall,track,Hall,hall,600,,
""",
    "register/measures.csv": """\
measure,title,unit,kind,role,span_low,span_high,usual_low,usual_high,max_step,flat_after_min
temperature,Air,Cel,level,temperature,-40,85,,,,
""",
    "raw/day.jsonl": """\
{"mote":"M1","seq":0,"received_at":"2031-05-09T07:00:00Z","readings":{"temperature":21.5}}
{"mote":"M1","seq":1,"received_at":"2031-05-09T07:00:20Z","readings":{"temperature":21.6}}
{"seq":2,"received_at":"2031-05-09T07:00:40Z","readings":{"temperature":21.7}}
""",
}


@pytest.fixture
def place(tmp_path: Path) -> Place:
    """Two good lines and one without a mote, waiting in raw/."""
    for name, text in FILES.items():
        file = tmp_path / "small" / name
        file.parent.mkdir(parents=True, exist_ok=True)
        file.write_text(text)
    return Place(str(tmp_path / "small"), str(tmp_path / "small.duckdb"))


@pytest.fixture
def free_port() -> int:
    """A port of this machine that nobody listens on."""
    with closing(socket.socket()) as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


@pytest.fixture(scope="session")
def prefect() -> Iterator[None]:
    """Prefect in this process; it takes seconds to start, so once for all tests."""
    quieten_prefect()
    from prefect.testing.utilities import prefect_test_harness

    with prefect_test_harness(server_startup_timeout=120):
        yield
