"""One content hash a table: the same rows give the same hash, in whatever order and batches they came in."""

from hashlib import sha256

import duckdb

from motelake.warehouse.statements import quoted

# The record of the work is left out, and so is what only tells how a burst came in.
TABLES = (
    "burst",
    "reading",
    "mote_minute",
    "zone_minute",
    "campaign",
    "level",
    "mote",
    "gateway",
    "zone",
    "measure",
    "placement",
    "mote_place",
    "mote_reference",
    "programme_event",
    "context_stream",
    "context_point",
)
_LEFT_OUT = {("burst", "batch")}


def fingerprint(engine: duckdb.DuckDBPyConnection) -> dict[str, str]:
    """The hash of each public table's content, 32 hexadecimal digits.

    Rows are hashed one by one (MD5 over all columns as text, times as microseconds, NULL told from empty) and
    the hashes added up, so that the order of rows does not matter but their number does.
    """
    return {table: _fingerprint(engine, table) for table in TABLES}


def _fingerprint(engine: duckdb.DuckDBPyConnection, table: str) -> str:
    columns = engine.execute(
        "select column_name, data_type from duckdb_columns() "
        "where schema_name = 'main' and table_name = $table order by column_name",
        {"table": table},
    ).fetchall()
    cells = ", ".join(_cell(name, data_type) for name, data_type in columns if (table, name) not in _LEFT_OUT)
    row = engine.execute(
        f"select count(*), sum(md5_number_lower(text)::hugeint), sum(md5_number_upper(text)::hugeint) "
        f"from (select concat_ws(chr(31), {cells}) as text from {table})"
    ).fetchone()
    return sha256(repr(row).encode()).hexdigest()[:32]


def _cell(name: str, data_type: str) -> str:
    column = quoted(name)
    text = f"epoch_us({column})" if data_type.startswith("TIMESTAMP") else column
    return f"coalesce({text}::varchar, chr(0))"
