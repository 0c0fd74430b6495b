"""`motelake run` as a process: with Prefect inside it, and against a Prefect server."""

import json
import os
import shutil
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import closing, suppress
from pathlib import Path
from typing import TYPE_CHECKING
from urllib.request import Request, urlopen

import duckdb
import pytest

from motelake.jobs.quiet import SWITCHES

if TYPE_CHECKING:
    from tests.jobs.conftest import Place

RUN = (sys.executable, "-c", "from motelake.cli import main; main()", "run")
# What Prefect's log lines hold.
NOISE = (" | ", "Flow run", "Task run", "INFO", "WARNING", "ERROR", "Error logging", "Traceback")
# Told to every Python process below: whoever is asked for outside of this machine is written down.
WATCH = """\
import os, sys
def note(event, arguments):
    if event in ("socket.connect", "socket.getaddrinfo"):
        host = arguments[1][0] if event == "socket.connect" else arguments[0]
        if isinstance(arguments[1], tuple) or event == "socket.getaddrinfo":
            if str(host) not in ("127.0.0.1", "::1", "localhost", "0.0.0.0", "None", "b'localhost'"):
                with open(os.environ["ASKED_FOR"], "a") as file:
                    file.write(f"{event} {host}\\n")
sys.addaudithook(note)
"""


@pytest.fixture
def used_before(tmp_path: Path, prefect_folder: Path) -> None:
    """Prefect has run here before."""
    shutil.copytree(prefect_folder, tmp_path / "prefect")


def environment(home: Path, **more: str) -> dict[str, str]:
    """The environment of a person who set nothing about Prefect."""
    kept = {
        name: value
        for name, value in os.environ.items()
        if not name.startswith(("PREFECT", "MOTELAKE", "DO_NOT_TRACK")) and name != "CI"
    }
    return kept | {"HOME": str(home), "PREFECT_HOME": str(home / "prefect")} | more


def test_a_person_sees_only_our_words_and_nobody_outside_is_asked(place: "Place", tmp_path: Path) -> None:
    asked_for = tmp_path / "asked_for"
    (tmp_path / "watch").mkdir()
    (tmp_path / "watch" / "sitecustomize.py").write_text(WATCH)
    done = subprocess.run(
        (*RUN, place.lake),
        env=environment(tmp_path, PYTHONPATH=str(tmp_path / "watch"), ASKED_FOR=str(asked_for)),
        capture_output=True,
        text=True,
        check=False,
        timeout=180,
    )
    assert done.returncode == 0, done.stderr
    assert done.stdout.splitlines()[:2] == [
        "Staged 1 raw object in 1 batch: 3 lines read, 2 taken, 1 rejected.",
        "  rejected because: no_mote 1",
    ]
    assert done.stderr.splitlines()[0] == f"Small fair: {place.lake}"
    assert not any(noise in done.stderr for noise in NOISE), done.stderr
    assert not asked_for.exists(), asked_for.read_text()


@pytest.mark.usefixtures("used_before")
def test_a_run_that_fails_says_so_in_one_sentence(place: "Place", tmp_path: Path) -> None:
    with closing(duckdb.connect(place.warehouse)):
        done = subprocess.run(
            (*RUN, place.lake),
            env=environment(tmp_path),
            capture_output=True,
            text=True,
            check=False,
            timeout=180,
        )
    assert done.returncode == 3, done.stderr
    assert done.stderr.splitlines()[-1].startswith("motelake: Another process is at work in ")
    assert not any(noise in done.stderr for noise in NOISE), done.stderr


@pytest.mark.usefixtures("used_before")
@pytest.mark.parametrize("sign", [signal.SIGKILL, signal.SIGHUP, signal.SIGINT])
def test_no_server_outlives_a_run_that_is_ended(place: "Place", tmp_path: Path, sign: signal.Signals) -> None:
    # Nothing of what this run starts has another folder for Prefect's files.
    home = str(tmp_path / "prefect")
    with subprocess.Popen(
        (*RUN, place.lake), env=environment(tmp_path), stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
    ) as process:
        _wait_until(lambda: len(_processes_with(home)) >= 3, "the run, its server and the watcher")
        process.send_signal(sign)
        process.wait(timeout=60)
    _wait_until(lambda: not _processes_with(home), "all of them are gone")


def _processes_with(home: str) -> list[str]:
    """Processes of this machine whose environment names this Prefect folder."""
    found = []
    for place in Path("/proc").glob("[0-9]*"):
        with suppress(OSError):
            if f"PREFECT_HOME={home}\0".encode() in (place / "environ").read_bytes():
                found.append(place.name)
    return found


def _wait_until(is_so: Callable[[], bool], what: str) -> None:
    deadline = time.monotonic() + 120
    while not is_so():
        assert time.monotonic() < deadline, f"waited two minutes in vain until: {what}"
        time.sleep(0.05)


@pytest.fixture
def server(tmp_path: Path, used_before: None) -> Iterator[str]:
    """The address of a Prefect server that was started for one test."""
    with closing(socket.socket()) as probe:
        probe.bind(("127.0.0.1", 0))
        port = str(probe.getsockname()[1])
    command = (sys.executable, "-m", "prefect", "server", "start", "--host", "127.0.0.1", "--port", port)
    with (tmp_path / "server.log").open("wb") as log:
        process = subprocess.Popen(
            command, env=environment(tmp_path, **SWITCHES), stdout=log, stderr=log, start_new_session=True
        )
    try:
        url = f"http://127.0.0.1:{port}/api"
        deadline = time.monotonic() + 120
        while not _answers(f"{url}/health"):
            assert process.poll() is None, (tmp_path / "server.log").read_text()
            assert time.monotonic() < deadline, "the Prefect server did not start in two minutes"
            time.sleep(0.2)
        yield url
    finally:
        process.terminate()
        process.wait(timeout=30)


def _answers(url: str) -> bool:
    try:
        with urlopen(url, timeout=5) as reply:
            return bool(reply.status == 200)
    except OSError:
        return False


def _post(url: str) -> list[dict[str, object]]:
    request = Request(url, data=b"{}", headers={"content-type": "application/json"})
    with urlopen(request, timeout=30) as reply:
        told: list[dict[str, object]] = json.load(reply)
    return told


def test_a_configured_server_is_told_of_the_run_its_tasks_and_its_faults(
    place: "Place", server: str, tmp_path: Path
) -> None:
    def run() -> subprocess.CompletedProcess[str]:
        return subprocess.run(
            (*RUN, place.lake),
            env=environment(tmp_path, PREFECT_API_URL=server),
            capture_output=True,
            text=True,
            check=False,
            timeout=120,
        )

    done = run()
    assert done.returncode == 0, done.stderr
    assert [flow_run["state_type"] for flow_run in _post(f"{server}/flow_runs/filter")] == ["COMPLETED"]
    assert not any(noise in done.stderr for noise in NOISE), done.stderr

    with closing(duckdb.connect(place.warehouse)):
        locked = run()
    assert locked.returncode == 3
    assert locked.stderr.splitlines()[-1].startswith("motelake: Another process is at work in ")
    assert "Traceback" not in locked.stderr
    states = {flow_run["state_type"] for flow_run in _post(f"{server}/flow_runs/filter")}
    assert states == {"COMPLETED", "FAILED"}
    tasks = {str(task_run["name"]).split("-")[0] for task_run in _post(f"{server}/task_runs/filter")}
    assert tasks == {"stage", "check", "load", "publish"}


@pytest.mark.usefixtures("used_before")
def test_a_server_that_does_not_answer_is_a_fault_of_the_surroundings(place: "Place", tmp_path: Path) -> None:
    done = subprocess.run(
        (*RUN, place.lake),
        env=environment(tmp_path, PREFECT_API_URL="http://127.0.0.1:9/api"),
        capture_output=True,
        text=True,
        check=False,
        timeout=120,
    )
    assert done.returncode == 3
    assert done.stderr.splitlines()[-1].startswith(
        "motelake: The Prefect server at http://127.0.0.1:9/api does"
    )
    assert "Traceback" not in done.stderr
