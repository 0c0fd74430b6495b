"""A run on a Dask cluster: a scheduler and two workers, processes of their own on loopback."""

import os
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Iterator, Mapping
from contextlib import closing
from dataclasses import dataclass, replace
from pathlib import Path
from threading import Thread
from typing import TYPE_CHECKING

import pytest

from motelake.config import Config
from motelake.core.shares import preferred_host
from motelake.errors import SurroundingsError
from motelake.steps.check import check
from motelake.steps.fingerprint import fingerprint_warehouse
from motelake.steps.load import load
from motelake.steps.stage import stage

if TYPE_CHECKING:
    from tests.conftest import Fair

    from motelake.steps.run import RunReport

pytestmark = pytest.mark.usefixtures("prefect")
pytest.importorskip("prefect_dask", reason="Dask is not installed: pip install 'motelake[dask]'")


HOSTS = ("127.0.0.1", "127.0.0.2")


@dataclass(frozen=True)
class Cluster:
    address: str
    workers: list["subprocess.Popen[bytes]"]


def start(
    *arguments: str, host: str = "127.0.0.1", environment: Mapping[str, str] | None = None
) -> "subprocess.Popen[bytes]":
    command = (sys.executable, "-m", "dask", *arguments, "--host", host, "--no-dashboard")
    return subprocess.Popen(command, env=environment, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)


@pytest.fixture
def cluster(tmp_path: Path) -> Iterator[Cluster]:
    with closing(socket.socket()) as free:
        free.bind(("127.0.0.1", 0))
        port = str(free.getsockname()[1])
    address = f"tcp://127.0.0.1:{port}"
    options = (
        "--nworkers",
        "1",
        "--nthreads",
        "1",
        "--no-nanny",
        "--local-directory",
        str(tmp_path / "dask"),
    )
    processes = [start("scheduler", "--port", port)]
    try:
        for host in HOSTS:
            own = os.environ | {"MOTELAKE_SHARE_FOLDER": str(tmp_path / "kept" / host)}
            processes.append(start("worker", address, *options, host=host, environment=own))
        yield Cluster(address, processes[1:])
    finally:
        for process in processes:
            process.kill()
        for process in processes:
            process.wait()


@pytest.fixture
def no_page(monkeypatch: pytest.MonkeyPatch) -> None:
    """The page takes longer than all the rest."""
    monkeypatch.setattr("motelake.steps.refresh_page.refresh_page", lambda *given, **named: (False, ()))


def call_run(lake: str, warehouse: Path) -> "RunReport":
    from motelake.jobs.calling import call_flow
    from motelake.jobs.run import run

    return call_flow(lambda: run(lake, str(warehouse)), lambda sentence: None)


def kill_once_shares_are_begun(worker: "subprocess.Popen[bytes]", kept: Path) -> None:
    deadline = time.monotonic() + 120
    while not list(kept.glob("*/*.duckdb")) and time.monotonic() < deadline:
        time.sleep(0.01)
    os.kill(worker.pid, signal.SIGKILL)


@pytest.mark.usefixtures("no_page")
def test_a_run_on_two_workers_of_which_one_is_killed_makes_what_one_process_makes(
    moving_fair: "Fair", cluster: Cluster, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("MOTELAKE_DASK", cluster.address)
    monkeypatch.setenv("MOTELAKE_SHARE_MOTES", "4")
    moving_fair.amend("campaign.toml", "batch_objects = 8", "batch_objects = 3")
    by_shares = Config(moving_fair.lake.url, tmp_path / "by_shares.duckdb")
    killer = Thread(
        target=kill_once_shares_are_begun, args=(cluster.workers[0], tmp_path / "kept" / HOSTS[0])
    )
    killer.start()
    report = call_run(moving_fair.lake.url, by_shares.warehouse)
    killer.join()
    assert cluster.workers[0].wait() == -signal.SIGKILL
    assert cluster.workers[1].poll() is None
    # Each share goes where its warehouse is kept.
    begun = [file.stem for file in (tmp_path / "kept" / HOSTS[0]).glob("*/*.duckdb")]
    assert begun
    assert all(preferred_host(share, HOSTS) == HOSTS[0] for share in begun)
    assert (report.stage.objects, len(report.stage.manifests), report.load.objects_moved) == (6, 2, 6)
    assert report.publish.is_new
    whole = replace(by_shares, warehouse=tmp_path / "whole.duckdb")
    stage(moving_fair.lake, moving_fair.campaign, whole, print)
    check(moving_fair.lake, moving_fair.campaign, whole, print)
    load(moving_fair.lake, moving_fair.campaign, whole, print)
    assert fingerprint_warehouse(by_shares) == fingerprint_warehouse(whole)


def test_a_cluster_that_does_not_answer_is_told_by_its_address(
    moving_fair: "Fair", tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("MOTELAKE_DASK", "tcp://127.0.0.1:9")
    monkeypatch.setattr("motelake.jobs.spread.PATIENCE_S", 1)
    with pytest.raises(SurroundingsError, match=r"The Dask cluster at tcp://127.0.0.1:9 does not answer"):
        call_run(moving_fair.lake.url, tmp_path / "nothing.duckdb")


def test_without_a_cluster_nothing_of_dask_is_imported() -> None:
    code = "import sys, motelake.jobs.run; sys.exit('distributed' in sys.modules or 'dask' in sys.modules)"
    environment = {name: value for name, value in os.environ.items() if name != "MOTELAKE_DASK"}
    assert subprocess.run([sys.executable, "-c", code], env=environment, check=False).returncode == 0
