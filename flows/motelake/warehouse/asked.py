"""The library of views over the warehouse's own tables, for what is computed while publishing.

What is asked there costs no reading of parts, and agrees with the snapshot: the writer holds the warehouse.
"""

from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING

from motelake.library import Library, statements

if TYPE_CHECKING:
    import duckdb


@contextmanager
def asked_of_warehouse(engine: "duckdb.DuckDBPyConnection", library: Library) -> Iterator[str]:
    """The name of a catalog in which every question of the library can be asked; it is gone afterwards."""
    home = current_catalog(engine)
    engine.execute("attach ':memory:' as asked")
    try:
        engine.execute("use asked")
        for table in library.tables():
            engine.execute(f'create view {table.name} as select * from "{home}".main.{table.name}')
        for statement in statements(library):
            engine.execute(statement)
        engine.execute(f'use "{home}"')
        yield "asked"
    finally:
        engine.execute(f'use "{home}"')
        engine.execute("detach asked")


def current_catalog(engine: "duckdb.DuckDBPyConnection") -> str:
    """The name under which the connection knows its own database."""
    return str(engine.execute("select current_catalog()").fetchall()[0][0])
