"""DuckDB as motelake uses it: UTC, no downloads, bounded memory."""

import errno
from collections.abc import Iterator, Mapping
from contextlib import contextmanager, suppress
from pathlib import Path
from time import monotonic, sleep

import duckdb

from motelake.errors import DamagedError, LockedError, SurroundingsError

SETTINGS: Mapping[str, str] = {
    # A bare s3:// path would otherwise make DuckDB fetch an extension from the network.
    "autoinstall_known_extensions": "false",
    "autoload_known_extensions": "false",
    "preserve_insertion_order": "true",
}

# A short look at an idle warehouse, as by `status`, must not make a run that starts just then fail.
PATIENCE_S = 2.0
# DuckDB has no error of its own for a file that was cut short, overwritten, or written by a later version.
_DAMAGED = (
    "not a valid DuckDB database file",
    "Could not read enough bytes",
    "Corrupt database file",
    "database file with version number",
)
_FULL = {errno.ENOSPC, errno.EDQUOT, errno.EFBIG}


def open_engine(
    database: Path | str = ":memory:",
    *,
    is_read_only: bool = False,
    memory: str | None = None,
    threads: int | None = None,
    spill_folder: Path | None = None,
) -> duckdb.DuckDBPyConnection:
    """A DuckDB connection in UTC that never reaches for the network.

    memory is a DuckDB size such as "2GB"; what does not fit spills into spill_folder.
    Raises LockedError where another process writes to the file, DamagedError where what it holds cannot be
    read, SurroundingsError where it cannot be opened.
    """
    settings: dict[str, str | bool | int | float | list[str]] = dict(SETTINGS)
    if memory:
        settings["memory_limit"] = memory
    if threads:
        settings["threads"] = threads
    if spill_folder:
        settings["temp_directory"] = str(spill_folder)
    engine = _connect(str(database), is_read_only, settings)
    # The zone belongs to an extension that is loaded after the settings are read.
    engine.execute("set TimeZone = 'UTC'")
    return engine


def _connect(
    database: str, is_read_only: bool, settings: dict[str, str | bool | int | float | list[str]]
) -> duckdb.DuckDBPyConnection:
    give_up_at = monotonic() + PATIENCE_S
    while True:
        try:
            return duckdb.connect(database, read_only=is_read_only, config=settings)
        except duckdb.Error as error:
            if _is_of_damage(error):
                raise DamagedError(f"The warehouse {database} cannot be read: {_sentence(error)}") from error
            if not isinstance(error, duckdb.IOException):
                raise
            if "Could not set lock" not in str(error):
                raise SurroundingsError(
                    f"The warehouse {database} cannot be opened: {_sentence(error)}"
                ) from error
            if monotonic() >= give_up_at:
                raise LockedError(
                    f"Another process is at work in {database}. Try again when it is done; readers need "
                    "no lock: they open what is published."
                ) from error
        sleep(0.1)


@contextmanager
def transaction(engine: duckdb.DuckDBPyConnection) -> Iterator[None]:
    """What is done inside is there afterwards as a whole, or not at all."""
    engine.execute("begin")
    try:
        yield
    except BaseException:
        # Where the engine itself broke nothing is left to roll back, and its fault is the one to tell.
        with suppress(duckdb.Error):
            engine.execute("rollback")
        raise
    engine.execute("commit")


@contextmanager
def told_surroundings(work: str) -> Iterator[None]:
    """Turns what DuckDB says of a full disk, a vanished file or missing memory into a SurroundingsError.

    work names in a few words what was being done.
    """
    try:
        yield
    except duckdb.Error as error:
        if _is_of_damage(error):
            raise DamagedError(f"{work} stopped: {_sentence(error)}") from error
        if not _is_of_surroundings(error):
            raise
        advice = "Make room, then" if "No space left" in str(error) else "Nothing half done counts;"
        raise SurroundingsError(f"{work} stopped: {_sentence(error)} {advice} run it again.") from error
    except OSError as error:
        if error.errno not in _FULL:
            raise
        raise SurroundingsError(f"{work} stopped: {error}. Make room, then run it again.") from error


def _is_of_damage(error: duckdb.Error) -> bool:
    return any(words in str(error) for words in _DAMAGED)


def _sentence(error: duckdb.Error) -> str:
    said = str(error).strip()
    return said if said.endswith((".", "!")) else f"{said}."


def _is_of_surroundings(error: duckdb.Error) -> bool:
    # A commit that finds the disk full is told as a fault of the transaction.
    return isinstance(error, duckdb.IOException | duckdb.OutOfMemoryException) or "Could not write" in str(
        error
    )
