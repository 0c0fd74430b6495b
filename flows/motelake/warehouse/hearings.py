"""Hearings in the warehouse: what was staged of the raw objects that count, before anything is derived."""

from collections.abc import Collection, Sequence

import duckdb

from motelake.warehouse.statements import literal, quoted

_PREFIX = "reading_"


def shape_hearings(engine: duckdb.DuckDBPyConnection, measures: Collection[str]) -> None:
    """Gives work.hearing one column a registered measure, in alphabetical order, and no other.

    The order matters: hearings that disagree are put in order by their readings, column by column.
    """
    present = reading_columns(engine, "work.hearing")
    wanted = [_PREFIX + measure for measure in sorted(measures)]
    if present == wanted:
        return
    kept = ", ".join(
        quoted(column) if column in present else f"null::double as {quoted(column)}" for column in wanted
    )
    engine.execute(
        "create or replace table work.hearing as "
        f"select columns(lambda name: not starts_with(name, '{_PREFIX}'))"
        f"{', ' + kept if kept else ''} from work.hearing"
    )


def reading_columns(engine: duckdb.DuckDBPyConnection, relation: str) -> list[str]:
    """The reading columns of a table or query, as they stand."""
    described = engine.execute(f"describe from {relation}").fetchall()
    return [row[0] for row in described if row[0].startswith(_PREFIX)]


def add_hearings(
    engine: duckdb.DuckDBPyConnection, files: Sequence[str], objects: Sequence[str], batch: int
) -> None:
    """Appends the hearings of registered motes in these raw objects from the Parquet files of their batch."""
    if not files or not objects:
        return
    source = f"read_parquet([{', '.join(literal(file) for file in files)}], hive_partitioning = false)"
    shared = [
        column
        for column in reading_columns(engine, source)
        if column in reading_columns(engine, "work.hearing")
    ]
    columns = ["object", "line", "mote", "seq", "gateway", "received_at", "rssi_dbm", "battery_v", *shared]
    engine.execute(
        f"insert into work.hearing by name select {', '.join(map(quoted, columns))}, $batch as batch "
        f"from {source} where object in (select unnest($objects)) and mote in (select mote from mote)",
        {"batch": batch, "objects": list(objects)},
    )


def remove_hearings(engine: duckdb.DuckDBPyConnection, objects: Sequence[str]) -> None:
    """Takes the hearings of these raw objects out again."""
    if objects:
        engine.execute(
            "delete from work.hearing where object in (select unnest($objects))", {"objects": list(objects)}
        )


def motes_of(engine: duckdb.DuckDBPyConnection, objects: Sequence[str], batch: int | None = None) -> set[str]:
    """The motes heard in these raw objects (of this batch), as far as they are in the warehouse."""
    if not objects:
        return set()
    rows = engine.execute(
        "select distinct mote from work.hearing "
        "where object in (select unnest($objects)) and ($batch is null or batch = $batch)",
        {"objects": list(objects), "batch": batch},
    ).fetchall()
    return {row[0] for row in rows}
