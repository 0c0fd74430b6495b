"""The schedule for real: a Prefect server and a worker from infra/, and everything in one process."""

import json
import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from datetime import UTC, datetime, timedelta
from http import HTTPStatus
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar
from urllib.error import HTTPError, URLError
from urllib.request import Request, urlopen

import pytest

if TYPE_CHECKING:
    from tests.jobs.conftest import Place

INFRA = Path(__file__).parents[2] / "infra"
PROGRAMS = Path(sys.executable).parent
PATIENCE_S = 300
Found = TypeVar("Found")
IS_LONG = os.environ.get("MOTELAKE_LONG_TESTS") == "1"


def wait_for(ask: Callable[[], Found | None], what: str) -> Found:
    give_up_at = time.monotonic() + PATIENCE_S
    while True:
        found = ask()
        if found:
            return found
        assert time.monotonic() < give_up_at, f"waited {PATIENCE_S} s in vain for {what}"
        # Each question costs the server some hundredths of a second.
        time.sleep(0.5)


@contextmanager
def running(
    command: list[str], environment: dict[str, str], log: Path
) -> Iterator["subprocess.Popen[bytes]"]:
    """A process of its own session while this lasts; all of the session are gone afterwards."""
    with log.open("ab") as said:
        process = subprocess.Popen(command, env=environment, stdout=said, stderr=said, start_new_session=True)
        try:
            yield process
        finally:
            process.terminate()
            with suppress(subprocess.TimeoutExpired):
                process.wait(timeout=30)
            with suppress(ProcessLookupError):
                os.killpg(process.pid, signal.SIGKILL)
            process.wait()


class Prefect:
    """A Prefect server as its API shows it."""

    def __init__(self, port: int) -> None:
        self.url = f"http://127.0.0.1:{port}/api"

    def call(self, method: str, path: str, **body: object) -> Any:
        data = None if method == "GET" else json.dumps(body).encode()
        headers = {"content-type": "application/json"}
        request = Request(self.url + path, data, headers, method=method)
        for _ in range(20):
            try:
                with urlopen(request, timeout=30) as reply:
                    text = reply.read()
                break
            except HTTPError as error:
                # The server's small database is locked for a moment, and it asks to be asked again.
                if error.code != HTTPStatus.SERVICE_UNAVAILABLE:
                    raise
                time.sleep(0.5)
        else:
            raise AssertionError(f"{path} was not answered")
        return json.loads(text) if text else None

    def is_up(self) -> bool:
        try:
            return self.call("GET", "/health") is not None
        except (URLError, OSError):
            return False

    def start(self, flow: str, **parameters: object) -> str:
        """The id of a new run of this flow's deployment for the lake `small`."""
        deployment = self.call("GET", f"/deployments/name/motelake-{flow}/small")["id"]
        path = f"/deployments/{deployment}/create_flow_run"
        return str(self.call("POST", path, state={"type": "SCHEDULED"}, parameters=parameters)["id"])

    def state(self, run: str) -> str:
        return str(self.call("GET", f"/flow_runs/{run}")["state_type"])

    def wait_until(self, run: str, state: str) -> None:
        ended = {"COMPLETED", "FAILED", "CRASHED", "CANCELLED"}
        seen = wait_for(lambda: (now := self.state(run)) in ended | {state} and now, f"{state} of a run")
        assert seen == state, [log["message"] for log in self.call("POST", "/logs/filter")][-8:]

    def artifacts(self) -> dict[str, str]:
        return {one["key"]: one["data"] for one in self.call("POST", "/artifacts/latest/filter")}


def process_of(run: str) -> int | None:
    """The process of a flow run on this machine."""
    for place in Path("/proc").glob("[0-9]*"):
        with suppress(OSError):
            if f"PREFECT__FLOW_RUN_ID={run}\0".encode() in (place / "environ").read_bytes():
                return int(place.name)
    return None


@pytest.fixture
def environment(tmp_path: Path, free_port: int) -> dict[str, str]:
    """That of a person who has nothing of Prefect's yet."""
    kept = {
        name: value
        for name, value in os.environ.items()
        if not name.startswith(("PREFECT", "MOTELAKE", "DO_NOT_TRACK")) and name != "CI"
    }
    return kept | {
        "HOME": str(tmp_path),
        "PREFECT_HOME": str(tmp_path / "prefect"),
        "MOTELAKE_PREFECT_PORT": str(free_port),
        "MOTELAKE_PREFECT_PROGRAM": str(PROGRAMS / "prefect"),
        # Waiting is most of these tests; what is asked every ten seconds is asked every second here.
        "PREFECT_WORKER_QUERY_SECONDS": "1",
        "PREFECT_RUNNER_POLL_FREQUENCY": "1",
        "PREFECT_SERVER_SERVICES_SCHEDULER_LOOP_SECONDS": "2",
        # An hour of runs would be put on the schedule beforehand, a hundred of each kind.
        "PREFECT_SERVER_SERVICES_SCHEDULER_MIN_SCHEDULED_TIME": "PT1M",
    }


@pytest.fixture
def lasting(place: "Place") -> "Place":
    """The small lake, its campaign begun an hour ago."""
    now = datetime.now(UTC).replace(microsecond=0)
    plan = Path(place.lake, "campaign.toml")
    text = plan.read_text().replace("2031-05-09T04:00:00Z", (now - timedelta(hours=1)).isoformat())
    plan.write_text(text.replace("2031-05-11T00:00:00Z", (now + timedelta(hours=47)).isoformat()))
    Path(place.lake, "raw/day.jsonl").unlink()
    deliver(place, "first", 50)
    return place


def deliver(place: "Place", name: str, minutes_ago: int) -> None:
    """Ten bursts that came so long ago."""
    at = datetime.now(UTC) - timedelta(minutes=minutes_ago)
    lines = [
        json.dumps(
            {
                "mote": "M1",
                "seq": (60 - minutes_ago) * 3 + number,
                "received_at": (at + timedelta(seconds=20 * number)).isoformat(),
                "readings": {"temperature": 21 + number / 10},
            }
        )
        for number in range(10)
    ]
    Path(place.lake, f"raw/{name}.jsonl").write_text("\n".join(lines) + "\n")


def motelake(environment: dict[str, str], *arguments: str) -> str:
    command = [str(PROGRAMS / "motelake"), *arguments]
    done = subprocess.run(
        command, env=environment, capture_output=True, text=True, check=False, timeout=PATIENCE_S
    )
    assert done.returncode == 0, done.stderr
    return done.stdout


def bursts_of(environment: dict[str, str], place: "Place") -> int:
    asked = motelake(environment, "sql", place.lake, "select count(*) as n from burst", "--format", "json")
    return int(json.loads(asked)[0]["n"])


@pytest.fixture
def server(environment: dict[str, str], free_port: int, tmp_path: Path) -> Iterator[Prefect]:
    with running(["bash", str(INFRA / "server")], environment, tmp_path / "server.log") as process:
        prefect = Prefect(free_port)
        wait_for(lambda: process.poll() is not None or prefect.is_up(), "the server")
        assert process.poll() is None, (tmp_path / "server.log").read_text()
        yield prefect


def test_a_worker_keeps_the_schedule_drops_what_is_late_and_makes_good_what_was_killed(
    server: Prefect, environment: dict[str, str], lasting: "Place", tmp_path: Path
) -> None:
    told = motelake(environment | {"PREFECT_API_URL": server.url}, "deploy", lasting.lake, "--every", "720")
    flows = ("run", "watch", "publish", "compact", "rebuild")
    assert told.splitlines() == [f"motelake-{flow}/small" for flow in flows]
    with running(["bash", str(INFRA / "worker")], environment, tmp_path / "worker.log"):
        killed = server.start("run")
        wait_for(Path(lasting.lake, "manifests/00000001.json").exists, "the first batch")
        late = server.start("run")
        server.wait_until(late, "CANCELLED")
        pid = process_of(killed)
        assert pid is not None
        os.kill(pid, signal.SIGKILL)
        server.wait_until(killed, "CRASHED")

        # Nobody renews the dead run's slot, so that it is free after a minute; here at once.
        (limit,) = [
            one
            for one in server.call("POST", "/v2/concurrency_limits/filter")
            if one["name"].startswith("motelake-writer-")
        ]
        assert (limit["limit"], limit["active_slots"]) == (1, 1)
        server.call("PATCH", f"/v2/concurrency_limits/{limit['id']}", active_slots=0)
        server.wait_until(server.start("run"), "COMPLETED")
        assert bursts_of(environment, lasting) == 10

        deliver(lasting, "second", 40)
        server.wait_until(server.start("rebuild", from_raw=True), "COMPLETED")
        assert bursts_of(environment, lasting) == 20
    artifacts = server.artifacts()
    assert [row["read"] for row in json.loads(artifacts["small-batches"])] == [10]
    assert artifacts["small-held"] == "Nothing is held."
    assert "| heard | 1 |" in artifacts["small-fleet"]


def test_all_of_it_runs_in_one_process_and_ends_with_it(
    environment: dict[str, str], free_port: int, lasting: "Place", tmp_path: Path
) -> None:
    call = ("--log-format", "json", "serve", lasting.lake, "--every", "0.1", "--port", str(free_port))
    command = [str(PROGRAMS / "motelake"), *call]
    log, prefect = tmp_path / "serve.log", Prefect(free_port)
    with running(command, environment, log) as process:

        def states() -> set[str]:
            assert process.poll() is None, log.read_text()
            # What else is due, the watch above all, may be done before.
            only = {"name": {"any_": ["motelake-run"]}}
            runs = prefect.call("POST", "/flow_runs/filter", flows=only) if prefect.is_up() else []
            return {run["state_type"] for run in runs}

        wait_for(lambda: "COMPLETED" in states(), "a run that was due")
        process.send_signal(signal.SIGTERM)
        assert process.wait(timeout=60) == 0, log.read_text()
    wait_for(lambda: not prefect.is_up(), "the server's end")
    records = [json.loads(line) for line in log.read_text().splitlines() if line.startswith("{")]
    assert records[0]["said"] == f"Prefect's page: http://127.0.0.1:{free_port}"
    assert any("Staged batch 1: 1 raw object, 10 lines taken, 0 rejected." in str(one) for one in records)


@pytest.mark.parametrize("way", ["infra/server", "motelake serve"])
def test_a_slot_that_is_held_is_known_after_the_server_was_killed(
    way: str, environment: dict[str, str], free_port: int, lasting: "Place", tmp_path: Path
) -> None:
    serve = [str(PROGRAMS / "motelake"), "serve", lasting.lake, "--every", "720", "--port", str(free_port)]
    command = ["bash", str(INFRA / "server")] if way == "infra/server" else serve
    prefect, log = Prefect(free_port), tmp_path / "server.log"
    with running(command, environment, log) as process:
        wait_for(lambda: process.poll() is not None or prefect.is_up(), "the server")
        prefect.call("POST", "/v2/concurrency_limits/", name="writer", limit=1)
        slot = {"names": ["writer"], "slots": 1, "mode": "concurrency", "lease_duration": 300}
        lease = prefect.call("POST", "/v2/concurrency_limits/increment-with-lease", **slot)["lease_id"]
        os.killpg(process.pid, signal.SIGKILL)
    wait_for(lambda: not prefect.is_up(), "the server's end")
    with running(command, environment, log) as process:
        wait_for(lambda: process.poll() is not None or prefect.is_up(), "the server again")
        # One that has forgotten it never takes the slot back from somebody who died.
        prefect.call("POST", f"/v2/concurrency_limits/leases/{lease}/renew", lease_duration=300)


@pytest.mark.skipif(not IS_LONG, reason="takes minutes: set MOTELAKE_LONG_TESTS=1")
def test_a_run_that_died_together_with_its_worker_is_seen_as_crashed(
    server: Prefect, environment: dict[str, str], lasting: "Place", tmp_path: Path
) -> None:
    deploy = environment | {"PREFECT_API_URL": server.url}, "deploy", lasting.lake, "--every", "720"
    motelake(*deploy)
    with running(["bash", str(INFRA / "worker")], environment, tmp_path / "worker.log") as worker:
        run = server.start("run")
        wait_for(Path(lasting.lake, "manifests/00000001.json").exists, "the first batch")
        pid = process_of(run)
        assert pid is not None
        os.kill(worker.pid, signal.SIGKILL)
        os.kill(pid, signal.SIGKILL)
        # As a container does that starts again.
        motelake(*deploy)
        assert server.state(run) == "RUNNING"
        server.wait_until(run, "CRASHED")
