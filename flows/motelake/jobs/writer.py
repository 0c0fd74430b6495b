"""One writer at a time, as Prefect sees to it: whoever comes second waits for the slot of the lake.

The lock that holds without Prefect is that of the warehouse file.
"""

from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from contextvars import ContextVar
from hashlib import sha256

from prefect.client.orchestration import get_client
from prefect.client.schemas.actions import GlobalConcurrencyLimitCreate
from prefect.concurrency.sync import concurrency
from prefect.exceptions import ObjectAlreadyExists, ObjectNotFound

from motelake.errors import LockedError
from motelake.lake.store import Lake

# After a writer was killed its slot is free again as soon as nobody renews it: a minute is the least.
LEASE_S = 60

_is_alone: ContextVar[bool] = ContextVar("is_alone", default=False)


@contextmanager
def alone() -> Iterator[None]:
    """While it lasts nobody else knows of the Prefect server, so there is nobody to wait for."""
    token = _is_alone.set(True)
    try:
        yield
    finally:
        _is_alone.reset(token)


def writer_limit(lake: Lake) -> str:
    """The name of the lake's concurrency limit in Prefect."""
    return f"motelake-writer-{sha256(lake.url.encode()).hexdigest()[:12]}"


@contextmanager
def only_writer(lake: Lake, wait_s: float) -> Iterator[None]:
    """While it lasts no other flow writes to the warehouse or the published part of the lake.

    Raises LockedError where another one still does after wait_s.
    """
    if _is_alone.get():
        yield
        return
    name = writer_limit(lake)
    _make_sure_of(name)
    with ExitStack() as slot:
        try:
            # Strict: without the limit nothing would be held, and Prefect would only warn.
            slot.enter_context(concurrency(name, timeout_seconds=wait_s, lease_duration=LEASE_S, strict=True))
        except TimeoutError as error:
            raise LockedError(
                f"Another flow has been at work in {lake.url} for {wait_s:.0f} s and more. What came in is "
                "taken up by the next run."
            ) from error
        yield


def _make_sure_of(name: str) -> None:
    with get_client(sync_client=True) as client:
        try:
            client.read_global_concurrency_limit_by_name(name)
        except ObjectNotFound:
            try:
                client.create_global_concurrency_limit(GlobalConcurrencyLimitCreate(name=name, limit=1))
            except ObjectAlreadyExists:
                # Another flow was quicker.
                return
