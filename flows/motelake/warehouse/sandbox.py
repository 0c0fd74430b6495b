"""Analysts' SQL behind two walls of the engine: only a statement that reads, and only the snapshot's files.

The type of the parsed statement does not tell whether it reads: DuckDB 2.0 takes COPY, INSERT, UPDATE and
DELETE inside a WITH clause, calls the whole a SELECT, and with use_tmp_file = false wrote over a published
part that it was allowed to read. So every node of the parsed statement must be one of those that only read.
"""

import json
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

import duckdb

from motelake.errors import MotelakeError, QueryError, SurroundingsError

if TYPE_CHECKING:
    import pyarrow as pa

_READING_NODES = {"SELECT_NODE", "SET_OPERATION_NODE", "RECURSIVE_CTE_NODE", "CTE_NODE"}
_TOO_MUCH_MEMORY = (
    "The query needed more memory than it may use. Ask for less (a shorter time, fewer motes, an aggregate), "
    "or give it more: MOTELAKE_SQL_MEMORY for SQL, MOTELAKE_MEMORY for a question of the library."
)
_NO_OTHER_FILES = "disabled by configuration"


def check_statement(engine: duckdb.DuckDBPyConnection, text: str) -> None:
    """Raises QueryError unless the text is a single SELECT that only reads."""
    try:
        statements = engine.extract_statements(text)
    except duckdb.Error as error:
        raise explained(error) from error
    if not statements:
        raise QueryError("There is no query. Give one SELECT, such as 'select count(*) from burst'.")
    if len(statements) > 1:
        raise QueryError(
            f"One SELECT at a time: this holds {len(statements)} statements. Ask them one after another."
        )
    (statement,) = statements
    if statement.type == duckdb.StatementType.MULTI:
        raise QueryError("PIVOT needs its values named here: PIVOT ... ON column IN (value, ...) USING ...")
    if statement.type != duckdb.StatementType.SELECT:
        raise QueryError(
            f"Only SELECT is allowed here, and this is {statement.type.name}: the snapshot is for reading. "
            "To keep an answer, write it with --format parquet."
        )
    for node in _nodes(engine, text):
        if node not in _READING_NODES:
            deed = node.removesuffix("_NODE").removesuffix("_QUERY")
            raise QueryError(f"Only SELECT is allowed here, and a WITH clause holds {deed}.")


def lock(
    engine: duckdb.DuckDBPyConnection,
    paths: Sequence[str],
    *,
    memory: str,
    scratch: Path,
    threads: int | None,
) -> None:
    """Leaves an engine nothing but the files named, memory, and scratch to spill into; for good."""
    engine.execute("set python_enable_replacements = false")
    engine.execute("set allow_persistent_secrets = false")
    engine.execute("set allow_community_extensions = false")
    engine.execute("set memory_limit = ?", [memory])
    if threads:
        engine.execute("set threads = ?", [threads])
    engine.execute("set temp_directory = ?", [str(scratch)])
    engine.execute("set max_temp_directory_size = ?", [memory])
    engine.execute("set allowed_paths = ?", [list(paths)])
    engine.execute("set enable_external_access = false")
    engine.execute("set lock_configuration = true")


def answer(engine: duckdb.DuckDBPyConnection, query: str, values: Sequence[Any] = ()) -> "pa.Table":
    """The rows of a query as an Arrow table; raises QueryError, or SurroundingsError where a file is gone."""
    with _explained():
        return _asked(engine, query, list(values)).to_arrow_table()


def rows(engine: duckdb.DuckDBPyConnection, query: str, values: Sequence[Any] = ()) -> list[dict[str, Any]]:
    """The rows of a query by column, without the start of Arrow; raises as answer does."""
    with _explained():
        found = _asked(engine, query, list(values))
        names = [column[0] for column in found.description or ()]
        return [dict(zip(names, row, strict=True)) for row in found.fetchall()]


@contextmanager
def _explained() -> Iterator[None]:
    try:
        yield
    except duckdb.Error as error:
        raise explained(error) from error
    except MemoryError as error:
        raise QueryError(_TOO_MUCH_MEMORY) from error


def explained(error: duckdb.Error) -> MotelakeError:
    """What DuckDB says, for the person who asked: with the line it is about, without advice on settings."""
    said = str(error).strip()
    if isinstance(error, duckdb.OutOfMemoryException):
        return QueryError(_TOO_MUCH_MEMORY)
    if isinstance(error, duckdb.PermissionException) and _NO_OTHER_FILES in said:
        what = said.removeprefix("Permission Error: ").partition(" - ")[0]
        return QueryError(f"Only the published tables and views can be read here: {what}.")
    if isinstance(error, duckdb.IOException | duckdb.InternalException | duckdb.FatalException):
        return SurroundingsError(
            f"The snapshot could not be read: {said}\nParts go a day after their snapshot was replaced: open "
            "the current one, and where that fails too, run 'motelake publish'."
        )
    return QueryError(f"The query was refused. {said}")


def _asked(
    engine: duckdb.DuckDBPyConnection, query: str, values: list[Any]
) -> "duckdb.DuckDBPyRelation | duckdb.DuckDBPyConnection":
    try:
        return engine.sql(query, params=values)
    except (duckdb.BinderException, duckdb.CatalogException):
        # Asked this way, DuckDB says in which line the unknown name stands.
        return engine.execute(query, values)


def _nodes(engine: duckdb.DuckDBPyConnection, text: str) -> Iterator[str]:
    (said,) = engine.execute("select json_serialize_sql(?)", [text]).fetchall()[0]
    parsed = json.loads(said)
    if parsed["error"]:
        raise QueryError(f"The query was refused. {parsed['error_message']}")
    waiting: list[Any] = [parsed["statements"]]
    while waiting:
        found = waiting.pop()
        if isinstance(found, dict):
            kind = found.get("type")
            if isinstance(kind, str) and kind.endswith("_NODE"):
                yield kind
            waiting.extend(found.values())
        elif isinstance(found, list):
            waiting.extend(found)
