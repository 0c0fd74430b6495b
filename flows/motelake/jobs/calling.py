"""Calling a flow from a process that is not Prefect's."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import TypeVar

import httpx
from prefect.settings import PREFECT_API_URL, PREFECT_FLOWS_HEARTBEAT_FREQUENCY, temporary_settings

from motelake.core.sentences import Say
from motelake.errors import InputError, SurroundingsError
from motelake.jobs.listening import heard_by
from motelake.jobs.writer import alone

Answer = TypeVar("Answer")


def call_flow(flow: Callable[[], Answer], say: Say) -> Answer:
    """What a flow answers, run against the configured Prefect server, else one that lasts as long as the run.

    say hears its progress. Raises what the flow raises, and SurroundingsError where Prefect cannot be
    reached.
    """
    with heard_by(say), _somewhere_to_report():
        return flow()


@contextmanager
def _somewhere_to_report() -> Iterator[None]:
    url = PREFECT_API_URL.value()
    if url:
        with _told_if_unreachable(url):
            yield
        return
    from motelake.jobs.server import server_of_one_run

    # Nobody else watches such a run, and its heart would beat on for a second after its end.
    with (
        server_of_one_run() as own_url,
        temporary_settings({PREFECT_API_URL: own_url, PREFECT_FLOWS_HEARTBEAT_FREQUENCY: None}),
        _told_if_unreachable(own_url),
        alone(),
    ):
        yield


@contextmanager
def configured_server() -> Iterator[None]:
    """While it lasts calls go to the configured Prefect server.

    Raises InputError where none is configured, SurroundingsError where it does not answer.
    """
    url = PREFECT_API_URL.value()
    if not url:
        raise InputError(
            "No Prefect server is configured. Start one (bash infra/server) and set PREFECT_API_URL to its "
            "address, or use 'motelake serve', which needs none."
        )
    with _told_if_unreachable(url):
        yield


@contextmanager
def _told_if_unreachable(url: str) -> Iterator[None]:
    try:
        yield
    except (httpx.HTTPError, RuntimeError) as error:
        # Prefect tells that nobody answers by a bare RuntimeError.
        if isinstance(error, RuntimeError) and not str(error).startswith("Failed to reach API"):
            raise
        raise SurroundingsError(
            f"The Prefect server at {url} does not answer ({error}). Start it, or unset PREFECT_API_URL to "
            "run without one. The single steps (stage, check, load, publish) need no Prefect."
        ) from error
