"""Who hears what a flow says: its run in Prefect always, and whoever called it in this process."""

from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar

from prefect import get_run_logger

from motelake.core.sentences import Say

_listener: ContextVar[Say | None] = ContextVar("listener", default=None)


@contextmanager
def heard_by(say: Say) -> Iterator[None]:
    """While it lasts, what flows say is said to this listener too."""
    token = _listener.set(say)
    try:
        yield
    finally:
        _listener.reset(token)


def say(sentence: str) -> None:
    """Says a sentence of progress from inside a flow or task."""
    get_run_logger().info("%s", sentence)
    listener = _listener.get()
    if listener is not None:
        listener(sentence)
