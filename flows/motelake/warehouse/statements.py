"""The statements under sql/ that a load runs, by name, with just the values each one asks for."""

import re
from collections.abc import Mapping
from functools import cache

import duckdb

from motelake.library import library_folder

_PARAMETER = re.compile(r"\$([a-z_]+)")


@cache
def read_statement(name: str) -> str:
    """The text of sql/<name>.sql."""
    return (library_folder() / f"{name}.sql").read_text(encoding="utf-8")


def execute(
    engine: duckdb.DuckDBPyConnection, name: str, values: Mapping[str, object] | None = None
) -> duckdb.DuckDBPyConnection:
    """Runs sql/<name>.sql; of the values it takes those that the statement names."""
    text = read_statement(name)
    wanted = {parameter: (values or {})[parameter] for parameter in _PARAMETER.findall(text)}
    return engine.execute(text, wanted or None)


def quoted(name: str) -> str:
    """A column's name as SQL writes it."""
    return '"' + name.replace('"', '""') + '"'


def literal(text: str) -> str:
    """Text as SQL writes it."""
    return "'" + text.replace("'", "''") + "'"
