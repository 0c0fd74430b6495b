"""The whole schedule of a lake in one process: its flows, and a Prefect server where none is configured."""

import os
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager

import httpx
from prefect import serve as serve_flows
from prefect.deployments.runner import RunnerDeployment
from prefect.settings import PREFECT_API_URL, temporary_settings

from motelake.core.sentences import Say
from motelake.errors import SurroundingsError
from motelake.jobs.deployments import HEARTBEAT_S, tell_crashes
from motelake.jobs.server import end_with_this_process

HOST = "127.0.0.1"
STARTUP_S = 120
# Which run holds which slot outlasts the server: otherwise a slot that was held when the power went would
# never be free again, and whatever is due would be dropped.
LEASES = "prefect.server.concurrency.lease_storage.filesystem"
# One run, one look and one publish at once, and something asked for by hand.
RUNS_AT_ONCE = 4


def serve(planned: list[RunnerDeployment], port: int, say: Say) -> None:
    """Runs what is due until it is stopped; each run is a process of its own.

    Raises SurroundingsError where the Prefect server does not start or answer.
    """
    # What a run inherits, so that a server that lost sight of it can tell.
    os.environ["PREFECT_FLOWS_HEARTBEAT_FREQUENCY"] = str(HEARTBEAT_S)
    with _server(port, say) as url, temporary_settings({PREFECT_API_URL: url}):
        tell_crashes()
        names = ", ".join(one.full_name for one in planned)
        say(f"Serving {names}. Stop with Ctrl-C; a run that is under way is stopped too and made good later.")
        serve_flows(*planned, pause_on_shutdown=False, print_starting_message=False, limit=RUNS_AT_ONCE)


@contextmanager
def _server(port: int, say: Say) -> Iterator[str]:
    url = PREFECT_API_URL.value()
    if url:
        if not _answers(url):
            raise SurroundingsError(
                f"The Prefect server at {url} does not answer. Start it, or unset PREFECT_API_URL: then "
                "one is started here."
            )
        yield url
        return
    url = f"http://{HOST}:{port}/api"
    if _answers(url):
        raise SurroundingsError(
            f"A Prefect server is at work on port {port} already. Set PREFECT_API_URL={url} to use it, or "
            "choose another port with --port."
        )
    command = (sys.executable, "-m", "prefect", "server", "start", "--host", HOST, "--port", str(port))
    # The page asks this address; without it one on another port would ask the usual one.
    environment = os.environ | {"PREFECT_UI_API_URL": url, "PREFECT_SERVER_CONCURRENCY_LEASE_STORAGE": LEASES}
    with (
        subprocess.Popen(command, env=environment, stdout=subprocess.DEVNULL) as process,
        end_with_this_process(process.pid),
    ):
        try:
            _wait_for(url, process)
            say(f"Prefect's page: http://{HOST}:{port}")
            yield url
        finally:
            process.terminate()


def _wait_for(url: str, process: "subprocess.Popen[bytes]") -> None:
    give_up_at = time.monotonic() + STARTUP_S
    while not _answers(url):
        if process.poll() is not None or time.monotonic() > give_up_at:
            raise SurroundingsError(
                f"The Prefect server did not start at {url}; what it said is above. Perhaps another program "
                "has the port: choose another with --port."
            )
        time.sleep(0.2)


def _answers(url: str) -> bool:
    try:
        return httpx.get(f"{url}/health", timeout=5).status_code == httpx.codes.OK
    except httpx.HTTPError:
        return False
