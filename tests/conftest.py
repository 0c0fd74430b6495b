"""What many tests share: an empty warehouse in memory, with the tables and the library of views."""

from collections.abc import Iterator

import duckdb
import pytest

from motelake.engine import open_engine
from motelake.library import read_library, statements, table_statements


@pytest.fixture
def warehouse() -> Iterator[duckdb.DuckDBPyConnection]:
    """A warehouse in memory with every table, empty, and every view."""
    library = read_library()
    connection = open_engine()
    for statement in [*table_statements(library), *statements(library)]:
        connection.execute(statement)
    yield connection
    connection.close()
