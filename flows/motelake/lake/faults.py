"""What a storage library raises, in motelake's own terms."""

import errno
import io
from collections.abc import Iterator
from contextlib import contextmanager
from typing import BinaryIO

from motelake.errors import MotelakeError, StoreError

ADVICE = {
    errno.ENOSPC: "The disk is full: make room, then run again.",
    errno.EDQUOT: "The disk quota is used up: make room, then run again.",
    errno.EACCES: "Check who owns the lake and who runs motelake.",
    errno.EPERM: "Check who owns the lake and who runs motelake.",
    errno.EROFS: "The lake lies on a read-only file system.",
}


@contextmanager
def naming(action: str, name: str, url: str) -> Iterator[None]:
    """Turns every storage fault inside into a StoreError that names the action, the object and the lake.

    FileNotFoundError and FileExistsError pass: they are answers, not faults.
    """
    try:
        yield
    except (FileNotFoundError, FileExistsError, MotelakeError):
        raise
    # Stores raise classes of their own libraries, which have no ancestor in common but Exception.
    except Exception as error:
        number = error.errno if isinstance(error, OSError) else None
        advice = ADVICE.get(number or 0, "Try again; if it stays, check the store.")
        cause = str(error) or type(error).__name__
        raise StoreError(f"{action} {name} in {url} failed: {cause}. {advice}") from error


class NamingStream(io.RawIOBase):
    """A readable stream whose faults are StoreErrors, also those that come long after it was opened."""

    def __init__(self, stream: BinaryIO, name: str, url: str) -> None:
        self._stream, self._name, self._url = stream, name, url

    def readable(self) -> bool:
        """Always true."""
        return True

    def read(self, size: int = -1) -> bytes:
        """At most so many bytes; all that are left where size is negative."""
        with naming("Reading", self._name, self._url):
            return self._stream.read(size)

    def close(self) -> None:
        """Closes the stream below as well."""
        self._stream.close()
        super().close()


def is_refused_as_existing(error: BaseException) -> bool:
    """True where a conditional write was refused because the name is taken.

    S3 answers PreconditionFailed (or ConditionalRequestConflict while another writer is at it); s3fs
    passes it on as FileExistsError only where the reply names the condition, else as OSError with
    the reply as its cause.
    """
    if isinstance(error, FileExistsError):
        return True
    reply = getattr(error.__cause__, "response", None)
    code = reply.get("Error", {}).get("Code") if isinstance(reply, dict) else None
    return code in {"PreconditionFailed", "ConditionalRequestConflict", "412", "409"}
