"""A Prefect server for one run, where none is configured; it ends with the run, however that ends."""

import subprocess
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager

from prefect.events.worker import EventsWorker
from prefect.logging.handlers import APILogHandler
from prefect.server.api.server import SubprocessASGIServer

from motelake.errors import SurroundingsError

STARTUP_S = 60
LAST_WORDS_S = 5


class ServerOfOneRun(SubprocessASGIServer):
    """Prefect's own temporary server, which does not outlive this process, however that ends."""

    watch: ExitStack | None = None

    def _run_uvicorn_command(self) -> "subprocess.Popen[bytes]":
        process = super()._run_uvicorn_command()
        self._end_watch()
        self.watch = ExitStack()
        self.watch.enter_context(end_with_this_process(process.pid))
        return process

    def stop(self) -> None:
        """Ends the server; its watcher first, which must not outlive the process it would end."""
        self._end_watch()
        super().stop()

    def _end_watch(self) -> None:
        if self.watch is not None:
            self.watch.close()
            self.watch = None


@contextmanager
def end_with_this_process(process: int) -> Iterator[None]:
    """While it lasts a watcher ends another process once nobody holds the watcher's stdin any more.

    Python's own ways of doing something at its end are not waited for by kill -9 and a closed terminal.
    """
    watcher = subprocess.Popen(
        ("sh", "-c", 'read -r _; kill "$1"', "sh", str(process)),
        stdin=subprocess.PIPE,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
        start_new_session=True,
    )
    try:
        yield
    finally:
        watcher.kill()
        watcher.communicate()


def _start(server: ServerOfOneRun) -> None:
    try:
        server.start(timeout=STARTUP_S)
    except RuntimeError as error:
        raise SurroundingsError(
            f"Prefect did not start for this run ({error}). Try again; the single steps (stage, check, load, "
            "publish) need no Prefect."
        ) from error


@contextmanager
def server_of_one_run() -> Iterator[str]:
    """The address of a Prefect server that runs while this lasts.

    Raises SurroundingsError where it does not start.
    """
    server = ServerOfOneRun()
    try:
        _start(server)
        try:
            yield server.api_url
        finally:
            # Logs and the states of tasks are sent by threads, which would find nobody there.
            APILogHandler().flush()
            EventsWorker.drain_all(timeout=LAST_WORDS_S)
    finally:
        server.stop()
