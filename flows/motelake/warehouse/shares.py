"""A warehouse that is kept by shares: the minutes stand in it, bursts and readings are views over parts.

What shares say of themselves is taken in whole, in one transaction with the record of the raw objects: the
same word taken in twice changes nothing.
"""

from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING, Any

import pyarrow as pa

from motelake.core.account import COUNTING
from motelake.core.campaign import Campaign
from motelake.engine import transaction
from motelake.errors import InputError
from motelake.warehouse.days import parts_with_days, prepare_days
from motelake.warehouse.load import Delivery, changed_parts
from motelake.warehouse.parts import prepare_parts
from motelake.warehouse.record import Recorded, forget_objects, read_objects, record_manifest, recorded
from motelake.warehouse.register import write_register
from motelake.warehouse.share import ShareReport
from motelake.warehouse.statements import execute, literal
from motelake.warehouse.store import has_work_table, write_state

if TYPE_CHECKING:
    import duckdb

# What readers find in the lake only, and what is taken into the warehouse hour by hour.
IN_THE_LAKE = ("burst", "reading")
TAKEN_IN = ("mote_minute", "zone_minute")
_SHARE_PART = pa.schema(
    [
        ("share", pa.string()),
        ("table_name", pa.string()),
        ("hour_at", pa.timestamp("us", tz="UTC")),
        ("part", pa.string()),
        ("row_count", pa.int64()),
        ("byte_count", pa.int64()),
    ]
)
_SHARE_DUPLICATE = pa.schema([("share", pa.string()), ("object", pa.string()), ("duplicates", pa.int64())])

WhereItLies = Callable[[str], str]


def is_kept_by_shares(engine: "duckdb.DuckDBPyConnection") -> bool:
    """True where bursts and readings are views over parts that shares wrote."""
    return has_work_table(engine, "share_part")


def refuse_other_keeping(engine: "duckdb.DuckDBPyConnection", lake: str, *, is_by_shares: bool) -> None:
    """Raises InputError where the warehouse was begun the other way."""
    is_empty = not read_objects(engine)
    if is_empty or is_kept_by_shares(engine) == is_by_shares:
        return
    before, now = ("by shares", "in one piece") if not is_by_shares else ("in one piece", "by shares")
    hint = "Unset MOTELAKE_DASK" if is_by_shares else "Set MOTELAKE_DASK"
    raise InputError(
        f"This warehouse was made {before}, and is to be loaded {now}. {hint} to go on as before, or run "
        f"`motelake rebuild {lake}` once to change over: everything in it comes from the lake."
    )


def keep_by_shares(engine: "duckdb.DuckDBPyConnection") -> None:
    """Makes an empty warehouse one that is kept by shares; nothing happens where it is one."""
    if is_kept_by_shares(engine):
        return
    with transaction(engine):
        prepare_parts(engine)
        prepare_days(engine)
        for table in IN_THE_LAKE:
            # What stands for a list of no files.
            engine.execute(f"create table work.no_{table} as from {table} limit 0")
            engine.execute(f"drop table {table}")
        engine.execute(
            "create table work.share_part (share varchar not null, table_name varchar not null, "
            "hour_at timestamptz not null, part varchar not null, row_count bigint not null, "
            "byte_count bigint not null)"
        )
        engine.execute(
            "create table work.share_duplicate (share varchar not null, object varchar not null, "
            "duplicates bigint not null)"
        )
        view_parts(engine, str)


def known_files(engine: "duckdb.DuckDBPyConnection") -> set[str]:
    """The names of all files of the shares, below published/, as they are on record."""
    return {name for (name,) in engine.execute("select part from work.share_part").fetchall()}


def is_news(engine: "duckdb.DuckDBPyConnection", campaign: Campaign, deliveries: Iterable[Delivery]) -> bool:
    """True where the campaign is not what the warehouse was made with, or an object is not on record so."""
    known = read_objects(engine)
    return bool(changed_parts(engine, campaign)) or any(
        known.get(judged.staged.name) != recorded(delivery.manifest.number, judged)
        for delivery in deliveries
        for judged in delivery.objects
    )


def take_in(
    engine: "duckdb.DuckDBPyConnection",
    campaign: Campaign,
    deliveries: Iterable[Delivery],
    reports: Sequence[ShareReport],
    *,
    state: Mapping[str, str],
    where: WhereItLies,
) -> int:
    """Brings the warehouse up to what its shares say, and remembers state, in one transaction.

    where tells by what DuckDB reads a file of published/. Returns the number of raw objects that went in or
    out.
    """
    with transaction(engine):
        parts = changed_parts(engine, campaign)
        if parts:
            write_register(engine, campaign)
        moves = _record(engine, deliveries)
        hours = _take_parts(engine, reports)
        for hour_at in hours:
            _take_minutes(engine, hour_at, where)
        _take_references(engine, reports)
        view_parts(engine, where)
        _insert(
            engine,
            "share_duplicate",
            _SHARE_DUPLICATE,
            [
                {"share": report.share, "object": name, "duplicates": count}
                for report in reports
                for name, count in report.duplicates.items()
            ],
        )
        execute(engine, "shares/settle_objects")
        execute(engine, "derive/71_settle_batches")
        for part, value in parts.items():
            write_state(engine, f"part:{part}", value)
        for key, value in state.items():
            write_state(engine, key, value)
    return moves


def _record(engine: "duckdb.DuckDBPyConnection", deliveries: Iterable[Delivery]) -> int:
    known = read_objects(engine)
    moves = 0
    for delivery in deliveries:
        number = delivery.manifest.number
        now = {judged.staged.name: recorded(number, judged) for judged in delivery.objects}
        if now and all(known.get(name) == one for name, one in now.items()):
            continue
        for name, one in now.items():
            counted = _counted_as(known.get(name))
            moves += counted != _counted_as(one)
        forget_objects(engine, list(now))
        known |= record_manifest(engine, delivery.manifest, delivery.objects, delivery.reject_files)
    return moves


def _counted_as(one: Recorded | None) -> int | None:
    """The batch as part of which an object counts, None where it does not."""
    return one.batch if one is not None and one.state in COUNTING else None


def _take_parts(engine: "duckdb.DuckDBPyConnection", reports: Iterable[ShareReport]) -> list[datetime]:
    """Puts the parts of all shares on record; the hours in which those of minutes are not what they were."""
    rows: list[dict[str, Any]] = []
    for report in reports:
        rows += [
            {
                "share": report.share,
                "table_name": part.table,
                "hour_at": part.hour_at,
                "part": part.name,
                "row_count": part.row_count,
                "byte_count": part.byte_count,
            }
            for part in report.parts
        ]
    engine.execute("create or replace temp table part_before as from work.share_part")
    _insert(engine, "share_part", _SHARE_PART, rows)
    hours = execute(engine, "shares/hours_to_take").fetchall()
    execute(engine, "shares/part")
    return [hour_at.astimezone(UTC) for (hour_at,) in hours]


def _take_minutes(engine: "duckdb.DuckDBPyConnection", hour_at: datetime, where: WhereItLies) -> None:
    span = {"from_at": hour_at, "to_at": hour_at + timedelta(hours=1)}
    for table in TAKEN_IN:
        engine.execute(f"delete from {table} where minute_at >= $from_at and minute_at < $to_at", span)
        names = engine.execute(
            "select part from work.share_part where table_name = $table and hour_at = $from_at order by part",
            {"table": table, "from_at": hour_at},
        ).fetchall()
        if names:
            engine.execute(f"insert into {table} by name from {_files([name for (name,) in names], where)}")


def _take_references(engine: "duckdb.DuckDBPyConnection", reports: Iterable[ShareReport]) -> None:
    engine.execute("delete from mote_reference")
    for report in reports:
        engine.register("incoming", pa.ipc.open_stream(report.references).read_all())
        engine.execute("insert into mote_reference by name select * from incoming")
        engine.unregister("incoming")


def view_parts(engine: "duckdb.DuckDBPyConnection", where: WhereItLies) -> None:
    """Makes bursts and readings views over the parts as they lie now, hours or days."""
    parts = parts_with_days(engine)
    for table in IN_THE_LAKE:
        # DuckDB takes every file to be as long as the first.
        own = sorted((part for part in parts if part.table == table), key=lambda part: -part.row_count)
        source = _files([part.name for part in own], where) if own else f"work.no_{table}"
        engine.execute(f"create or replace view {table} as select * from {source}")


def missing_files(
    engine: "duckdb.DuckDBPyConnection", names: Collection[str], in_lake: Collection[str]
) -> set[str]:
    """Those of the shares' files that the lake does not know of, nor a day there that is whole with these."""
    rows = engine.execute("select part, hours from work.day_part").fetchall()
    in_days = {
        name for part, hours in rows if part in in_lake and set(names).issuperset(hours) for name in hours
    }
    return set(names) - set(in_lake) - in_days


def _insert(
    engine: "duckdb.DuckDBPyConnection", table: str, schema: pa.Schema, rows: list[dict[str, Any]]
) -> None:
    """Rows in place of all that a table held."""
    engine.execute(f"delete from work.{table}")
    engine.register("incoming", pa.Table.from_pylist(rows, schema=schema))
    engine.execute(f"insert into work.{table} by name select * from incoming")
    engine.unregister("incoming")


def _files(names: Sequence[str], where: WhereItLies) -> str:
    listed = ", ".join(literal(where(name)) for name in names)
    return f"read_parquet([{listed}], hive_partitioning = false)"
