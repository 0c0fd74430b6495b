"""What a storage library raises, in motelake's own terms."""

import errno
import io
from collections.abc import Iterator
from contextlib import contextmanager
from typing import BinaryIO

from motelake.errors import MotelakeError, NotPermittedError, StoreError, StoreRefusedError

_OWNER = "Check who owns the lake and who runs motelake."
_FULL = "The disk is full: make room, then run again."
_CREDENTIALS = (
    "The store did not accept the credentials: set AWS_ACCESS_KEY_ID and AWS_SECRET_ACCESS_KEY (or "
    "AWS_PROFILE) to a pair that may list, read and write there."
)
_NO_ANSWER = (
    "Nothing answers there: see that the store runs and that AWS_ENDPOINT_URL_S3 names it, then run again."
)
_CLOCK = "This machine's clock and the store's differ: set the clock."
ADVICE = {
    errno.ENOSPC: _FULL,
    errno.EDQUOT: "The disk quota is used up: make room, then run again.",
    errno.EACCES: _OWNER,
    errno.EPERM: _OWNER,
    errno.EROFS: "The lake lies on a read-only file system.",
}
# Codes that S3 and stores like it reply with; botocore hands on the number where a reply has no body.
REPLY_ADVICE = {
    "403": _CREDENTIALS,
    "AccessDenied": _CREDENTIALS,
    "ExpiredToken": _CREDENTIALS,
    "InvalidAccessKeyId": _CREDENTIALS,
    "InvalidToken": _CREDENTIALS,
    "SignatureDoesNotMatch": _CREDENTIALS,
    "RequestTimeTooSkewed": _CLOCK,
}
# By name, because the libraries of stores are optional.
CLASS_ADVICE = {
    "NoCredentialsError": _CREDENTIALS,
    "PartialCredentialsError": _CREDENTIALS,
    "ConnectTimeoutError": _NO_ANSWER,
    "ConnectionClosedError": _NO_ANSWER,
    "EndpointConnectionError": _NO_ANSWER,
    "ReadTimeoutError": _NO_ANSWER,
}

_KINDS = {_OWNER: NotPermittedError, _CREDENTIALS: StoreRefusedError, _CLOCK: StoreRefusedError}


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
        advice = _advice(error)
        cause = (str(error) or type(error).__name__).rstrip(".")
        kind = _KINDS.get(advice, StoreError)
        raise kind(f"{action} {name} in {url} failed: {cause}. {advice}") from error


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
    return isinstance(error, FileExistsError) or _reply_code(error) in {
        "PreconditionFailed",
        "ConditionalRequestConflict",
        "412",
        "409",
    }


def is_not_offered(error: BaseException) -> bool:
    """True where a store said that it does not know how to do what was asked."""
    return _reply_code(error) in {"NotImplemented", "501"}


def _advice(error: BaseException) -> str:
    number = error.errno if isinstance(error, OSError) else None
    return (
        REPLY_ADVICE.get(_reply_code(error))
        or CLASS_ADVICE.get(type(error).__name__)
        or ADVICE.get(number or 0)
        or "Try again; if it stays, check the store."
    )


def _reply_code(error: BaseException) -> str:
    for one in (error, error.__cause__):
        reply = getattr(one, "response", None)
        if isinstance(reply, dict):
            return str(reply.get("Error", {}).get("Code", ""))
    return ""
