"""The library of views over the warehouse's own tables, or over a snapshot, for many questions at once.

What is asked of the warehouse costs no reading of parts, and agrees with the snapshot: the writer holds the
warehouse. What many questions are made of is worked out once.
"""

from collections.abc import Collection, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from threading import Event, Thread
from time import monotonic, process_time

import duckdb

from motelake.errors import QueryError
from motelake.library import Entry, Library, create_statement
from motelake.warehouse.parts import write_rows

# Views that most questions begin with: looked up as tables they cost a fiftieth.
KEPT = frozenset({"series.clock", "series.zone_departure"})
# A question that waits for a store computes nothing meanwhile.
WAITING_AT_MOST = 6
_LOOK_EVERY_S = 0.1


class TooLongError(QueryError):
    """A question took longer than it may; it was interrupted."""


@contextmanager
def asked_of_warehouse(
    engine: duckdb.DuckDBPyConnection, library: Library, questions: Collection[Entry], *, keeps: bool = True
) -> Iterator[None]:
    """Within it, these questions of the library can be asked of the engine by their names.

    keeps says that what many of them are made of is worked out at once.
    """
    home = current_catalog(engine)
    engine.execute("attach ':memory:' as asked")
    try:
        engine.execute("use asked")
        for table in library.tables():
            engine.execute(f'create view {table.name} as select * from "{home}".main.{table.name}')
        for statement in _statements(library, questions, KEPT if keeps else ()):
            engine.execute(statement)
        yield
    finally:
        engine.execute(f'use "{home}"')
        engine.execute("detach asked")


def beside(engine: duckdb.DuckDBPyConnection) -> duckdb.DuckDBPyConnection:
    """Another connection that can be asked the same at the same time."""
    published = engine.execute("select getvariable('published')").fetchall()[0][0]
    other = engine.cursor()
    other.execute("set TimeZone = 'UTC'")
    other.execute(f'use "{current_catalog(engine)}"')
    other.execute("set variable published = ?", [published])
    return other


def write_answer(engine: duckdb.DuckDBPyConnection, query: str, file: Path, said: Mapping[str, str]) -> int:
    """Writes an answer as Parquet with what is said about it, and returns the number of its rows.

    Raises QueryError where the question cannot be answered from this data.
    """
    try:
        return write_rows(engine, query, file, said=said)
    except duckdb.InterruptException:
        raise
    except duckdb.Error as error:
        raise QueryError(str(error)) from error


@contextmanager
def interrupted_after(engine: duckdb.DuckDBPyConnection, seconds: float) -> Iterator[None]:
    """Within it, the engine computes for so many seconds at most; raises TooLongError beyond.

    Seconds are counted over all threads of this process, so that a busy machine changes no answer; one that
    waits for a store instead is left alone for WAITING_AT_MOST times as long.
    """
    is_done, is_late = Event(), Event()
    computed, began = process_time(), monotonic()

    def look() -> None:
        while not is_done.wait(_LOOK_EVERY_S):
            if process_time() - computed > seconds or monotonic() - began > seconds * WAITING_AT_MOST:
                is_late.set()
                engine.interrupt()

    watcher = Thread(target=look, daemon=True)
    watcher.start()
    try:
        yield
    except (duckdb.Error, QueryError) as error:
        if is_late.is_set():
            raise TooLongError(f"It took longer than {seconds:g} seconds of computing.") from error
        raise
    finally:
        is_done.set()
        watcher.join()


def current_catalog(engine: duckdb.DuckDBPyConnection) -> str:
    """The name under which the connection knows its own database."""
    return str(engine.execute("select current_catalog()").fetchall()[0][0])


def _statements(library: Library, questions: Collection[Entry], kept: Collection[str]) -> Iterator[str]:
    needed = {entry.name for question in questions for entry in library.needed_by(question)}
    kept = needed.intersection(kept)
    entries = [entry for entry in library.entries.values() if entry.name in needed]
    for area in sorted({entry.area for entry in entries}):
        yield f"create schema {area}"
    for entry in entries:
        if entry.name in kept:
            yield f"create table {entry.name} as {entry.statement}"
        elif kept and entry.kept_statement:
            yield create_statement(replace(entry, statement=entry.kept_statement))
        else:
            yield create_statement(entry)
