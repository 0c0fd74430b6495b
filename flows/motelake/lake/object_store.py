"""What an object store needs besides fsspec: waiting that ends, and creation that one writer wins."""

import threading
from functools import cache
from typing import Any
from urllib.parse import urlsplit, urlunsplit

from motelake.errors import InputError
from motelake.lake.faults import is_not_offered, is_refused_as_existing

# A request is made at most S3_TRIES times, and again by s3fs: a store that does not answer at all is given up
# after some two minutes, one that is down within seconds.
S3_TRIES = 4
S3_OPTIONS: dict[str, Any] = {
    "use_listings_cache": False,
    "config_kwargs": {"retries": {"mode": "standard", "total_max_attempts": S3_TRIES}},
}

# memory:// has no exclusive creation of its own; threads of one process take turns instead.
_MEMORY_TURN = threading.Lock()
_PROBE = b"This store was asked whether it refuses to create what is there.\n"


def is_s3(url: str) -> bool:
    """True for URLs that s3fs opens."""
    return url.partition("://")[0] in ("s3", "s3a")


def refuse_secrets(url: str) -> None:
    """Raises InputError where a URL carries a password: URLs end up in logs and in the names of files."""
    parts = urlsplit(url)
    if "@" in parts.netloc and ":" in parts.netloc.rpartition("@")[0]:
        raise InputError(
            "The URL of the lake carries a password. Take it out and give it in the environment instead "
            "(for S3: AWS_ACCESS_KEY_ID and AWS_SECRET_ACCESS_KEY)."
        )


def without_secrets(url: str) -> str:
    """The URL without a user name, password or query: those can be secrets."""
    parts = urlsplit(url)
    return urlunsplit(parts._replace(netloc=parts.netloc.rpartition("@")[2], query="", fragment=""))


def bound_waiting(filesystem: Any) -> None:
    """Lets s3fs begin a request twice instead of five times, each of them with tries of its own."""
    if "s3" in protocols(filesystem):
        filesystem.retries = 2


def reading_options(filesystem: Any) -> dict[str, Any]:
    """What makes a small object one request: s3fs otherwise asks for its size first."""
    return {"max_concurrency": 1} if "s3" in protocols(filesystem) else {}


def remembering(filesystem: Any) -> Any:
    """The same store for reading objects that never change: each is looked at once, however often opened.

    DuckDB looks seven times at each file of each query; for a page over 192 parts that was 12,500 requests.
    """
    reader = type(filesystem)(**filesystem.storage_options, skip_instance_cache=True)
    bound_waiting(reader)
    seen: dict[str, Any] = {}
    look: Any = reader.info
    look_later: Any = getattr(reader, "_info", None)

    def info(path: str, *_given: Any, **_named: Any) -> Any:
        path = reader._strip_protocol(path)
        if path not in seen:
            seen[path] = look(path)
        return seen[path]

    async def info_later(path: str, *_given: Any, **_named: Any) -> Any:
        path = reader._strip_protocol(path)
        if path not in seen:
            seen[path] = await look_later(path)
        return seen[path]

    reader.info = info
    if look_later is not None:
        # Filesystems that work asynchronously ask themselves by this name.
        reader._info = info_later
    return reader


def create(filesystem: Any, path: str, data: bytes, probe: str) -> None:
    """Puts an object where there was none; FileExistsError for all but one of several writers.

    Where the store knows no conditional write, only one process may create at a time: then what is there is
    looked at before and after, which tells of a mistake but cannot prevent it.
    """
    if "memory" in protocols(filesystem):
        with _MEMORY_TURN:
            filesystem.pipe_file(path, data, mode="create")
    elif creates_exclusively(filesystem, probe):
        _create(filesystem, path, data)
    else:
        if filesystem.exists(path):
            raise FileExistsError(path)
        filesystem.pipe_file(path, data)
        if filesystem.cat_file(path) != data:
            raise FileExistsError(path)


@cache
def creates_exclusively(filesystem: Any, probe: str) -> bool:
    """True where the store refuses to create an object that is there.

    Asked once a process: one request where probe was created by an earlier one, else two.
    """
    if "memory" in protocols(filesystem):
        return True
    for _ in range(2):
        try:
            _create(filesystem, probe, _PROBE)
        except FileExistsError:
            return True
        except OSError as error:
            if is_not_offered(error):
                return False
            raise
    return False


def _create(filesystem: Any, path: str, data: bytes) -> None:
    try:
        filesystem.pipe_file(path, data, mode="create")
    except OSError as error:
        if is_refused_as_existing(error):
            raise FileExistsError(path) from error
        raise


def protocols(filesystem: Any) -> tuple[str, ...]:
    """The names under which URLs call a filesystem."""
    protocol = filesystem.protocol
    return (protocol,) if isinstance(protocol, str) else tuple(protocol)
