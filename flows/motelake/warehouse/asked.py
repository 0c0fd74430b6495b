"""The library of views over the warehouse's own tables, for what is computed while publishing.

What is asked there costs no reading of parts, and agrees with the snapshot: the writer holds the warehouse.
"""

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path

import duckdb

from motelake.errors import QueryError
from motelake.library import Library, statements
from motelake.warehouse.parts import write_rows


@contextmanager
def asked_of_warehouse(engine: duckdb.DuckDBPyConnection, library: Library) -> Iterator[None]:
    """Within it, every question of the library can be asked of the engine by its name."""
    home = current_catalog(engine)
    engine.execute("attach ':memory:' as asked")
    try:
        engine.execute("use asked")
        for table in library.tables():
            engine.execute(f'create view {table.name} as select * from "{home}".main.{table.name}')
        for statement in statements(library):
            engine.execute(statement)
        yield
    finally:
        engine.execute(f'use "{home}"')
        engine.execute("detach asked")


def write_answer(engine: duckdb.DuckDBPyConnection, query: str, file: Path, said: Mapping[str, str]) -> int:
    """Writes an answer as Parquet with what is said about it, and returns the number of its rows.

    Raises QueryError where the question cannot be answered from this data.
    """
    try:
        return write_rows(engine, query, file, said=said)
    except duckdb.Error as error:
        raise QueryError(str(error)) from error


def current_catalog(engine: duckdb.DuckDBPyConnection) -> str:
    """The name under which the connection knows its own database."""
    return str(engine.execute("select current_catalog()").fetchall()[0][0])
