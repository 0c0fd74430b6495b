"""The statements under sql/ that a load runs, by name, with just the values each one asks for.

A line that names <measure> is written once a measure, the copies parted by commas; beside it <kind>,
<max_step> and the other columns of the register stand for what they hold of that measure.
"""

import re
from collections.abc import Mapping, Sequence
from functools import cache

import duckdb

from motelake.core.register import Measure
from motelake.library import literal, read_sql

__all__ = ["execute", "literal", "quoted", "read_statements", "write_measures"]

_PARAMETER = re.compile(r"\$([a-z_]+)")
_COLUMN = re.compile(r"<([a-z_]+)>")


@cache
def read_statements(name: str) -> tuple[str, ...]:
    """The statements in sql/<name>.sql."""
    return tuple(one for one in read_sql(name).split(";\n") if one.strip())


def execute(
    engine: duckdb.DuckDBPyConnection,
    name: str,
    values: Mapping[str, object] | None = None,
    measures: Sequence[Measure] = (),
) -> duckdb.DuckDBPyConnection:
    """Runs sql/<name>.sql for these measures; of the values each statement takes those that it names.

    What the last statement answers can be fetched.
    """
    for statement in read_statements(name):
        text = write_measures(statement, measures)
        wanted = {parameter: (values or {})[parameter] for parameter in _PARAMETER.findall(text)}
        engine.execute(text, wanted or None)
    return engine


def write_measures(statement: str, measures: Sequence[Measure]) -> str:
    """The statement with its lines of one measure written out for each of these."""
    lines: list[str] = []
    for line in statement.split("\n"):
        if "<measure>" not in line:
            lines.append(line)
            continue
        bare, is_list = line.removesuffix(","), line.endswith(",")
        copies = [_write_measure(bare, measure) for measure in measures]
        lines.append(",\n".join(copies) + ("," if is_list and copies else ""))
    return "\n".join(lines)


def _write_measure(line: str, measure: Measure) -> str:
    return _COLUMN.sub(lambda column: _register_value(getattr(measure, column[1])), line)


def quoted(name: str) -> str:
    """A column's name as SQL writes it."""
    return '"' + name.replace('"', '""') + '"'


def _register_value(value: object) -> str:
    if value is None:
        return "null::double"
    return value if isinstance(value, str) else f"{value!r}::double"
