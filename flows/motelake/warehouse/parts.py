"""Published parts: one sorted Parquet file a table and UTC hour, named by its content.

The same rows give the same bytes and so the same name: an hour that did not change is not written again, and
a warehouse made anew finds its old parts. Sorting by mote before measure keeps equal burst ids close
together: six hours of readings of 500 motes took 8.6 MB, and 24.9 MB sorted by measure first.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from hashlib import file_digest
from pathlib import Path
from typing import TYPE_CHECKING

from motelake.engine import transaction
from motelake.library import literal

if TYPE_CHECKING:
    import duckdb

# Names and flags are few. Ids and times are many, and a dictionary of them makes a part twice as large: an
# hour of readings of 500 motes took 3.2 MB with one and 1.6 MB without, and an eighth less work.
DICTIONARY_AT_MOST = 1000
# Some 90 MB of parts: a day of 500 motes.
BURSTS_AT_ONCE = 2_000_000


@dataclass(frozen=True)
class PartedTable:
    """A table that is published in hours of time_column, its rows in the total order of sorted_by."""

    name: str
    time_column: str
    sorted_by: str


PARTED: Mapping[str, PartedTable] = {
    table.name: table
    for table in (
        PartedTable("burst", "sampled_at", "mote, sampled_at, burst"),
        PartedTable("reading", "sampled_at", "mote, measure, sampled_at, burst"),
        PartedTable("mote_minute", "minute_at", "measure, zone, mote, minute_at"),
        PartedTable("zone_minute", "minute_at", "measure, zone, minute_at"),
    )
}


@dataclass(frozen=True)
class Part:
    """One published file: name is relative to published/."""

    table: str
    hour_at: datetime
    name: str
    row_count: int
    byte_count: int


def prepare_parts(engine: "duckdb.DuckDBPyConnection") -> None:
    """Makes the warehouse's own record of what is published, where it is missing."""
    engine.execute(
        "create table if not exists work.part (table_name varchar not null, hour_at timestamptz not null, "
        "part varchar not null, row_count bigint not null, byte_count bigint not null)"
    )


def recorded_parts(engine: "duckdb.DuckDBPyConnection") -> list[Part]:
    """The parts that make up the warehouse as last written, by table and hour."""
    rows = engine.execute(
        "select table_name, hour_at, part, row_count, byte_count from work.part order by all"
    ).fetchall()
    return [Part(table, hour_at.astimezone(UTC), *rest) for table, hour_at, *rest in rows]


def changed_hours(engine: "duckdb.DuckDBPyConnection") -> set[datetime]:
    """The UTC hours whose rows changed since they were last written; none while motes wait to be compared."""
    rows = engine.execute(
        "select distinct hour_at from work.dirty_hour "
        "where not exists (from work.reached) and not exists (from work.reach_of_bursts)"
    ).fetchall()
    return {hour_at.astimezone(UTC) for (hour_at,) in rows}


def in_loads(engine: "duckdb.DuckDBPyConnection", hours: Sequence[datetime]) -> Iterator[list[datetime]]:
    """The hours in groups whose parts find room before they are in the lake, each of an hour at least."""
    rows = engine.execute(
        "select date_trunc('hour', sampled_at) as hour_at, count(*) from burst "
        "where sampled_at >= ? and sampled_at < ? group by hour_at",
        [min(hours), max(hours) + timedelta(hours=1)] if hours else [None, None],
    ).fetchall()
    bursts = {hour_at.astimezone(UTC): count for hour_at, count in rows}
    load: list[datetime] = []
    held = 0
    for hour_at in hours:
        if load and held + bursts.get(hour_at, 0) > BURSTS_AT_ONCE:
            yield load
            load, held = [], 0
        load.append(hour_at)
        held += bursts.get(hour_at, 0)
    if load:
        yield load


def write_parts(
    engine: "duckdb.DuckDBPyConnection", hours: Iterable[datetime], published: Path, *, source: str = ""
) -> list[Part]:
    """Writes the parts of these hours below the local folder published; an hour without rows has no part.

    source stands before the name of each table where something else than the table itself is published. What
    is not committed, or temporary, is not seen: several parts are written at a time, each by its own cursor.
    """
    jobs = [(table, hour_at) for table in PARTED.values() for hour_at in sorted(hours)]
    for table in PARTED.values():
        (published / folder_of(table.name)).mkdir(parents=True, exist_ok=True)

    def write(job: tuple[PartedTable, datetime]) -> Part | None:
        table, hour_at = job
        with engine.cursor() as own:
            return _write_part(own, table, source + table.name, hour_at, published)

    # One statement leaves a core idle while it sorts or packs the last of its rows.
    ((threads,),) = engine.execute("select current_setting('threads')").fetchall()
    with ThreadPoolExecutor(threads) as pool:
        return [part for part in pool.map(write, jobs) if part]


def record_parts(
    engine: "duckdb.DuckDBPyConnection", hours: Sequence[datetime], parts: Sequence[Part]
) -> None:
    """Takes the parts into the record in place of what these hours had, and calls the hours unchanged."""
    with transaction(engine):
        for table in ("work.part", "work.dirty_hour"):
            engine.execute(f"delete from {table} where hour_at in (select unnest(?))", [list(hours)])
        if parts:
            rows = [(one.table, one.hour_at, one.name, one.row_count, one.byte_count) for one in parts]
            engine.execute(
                "insert into work.part by name select unnest(?) as table_name, unnest(?) as hour_at, "
                "unnest(?) as part, unnest(?) as row_count, unnest(?) as byte_count",
                [list(column) for column in zip(*rows, strict=True)],
            )


def folder_of(table: str) -> str:
    """Where a table's parts lie below published/."""
    return f"parts/{table}"


def write_rows(
    engine: "duckdb.DuckDBPyConnection", query: str, file: Path, *, said: Mapping[str, str] | None = None
) -> int:
    """Writes a query's rows as zstd Parquet and returns their number.

    Rows in a total order give the same bytes each time. said is kept in the file as key and value.
    """
    pairs = ", ".join(f"{key}: '{value}'" for key, value in (said or {}).items())
    options = f"format parquet, compression zstd, dictionary_size_limit {DICTIONARY_AT_MOST}"
    options += f", kv_metadata {{{pairs}}}" if pairs else ""
    copied = engine.execute(f"copy ({query}) to {literal(str(file))} ({options})").fetchall()
    return int(copied[0][0])


def content_name(file: Path) -> str:
    """The SHA-256 of a file's bytes, cut to 32 hexadecimal digits: 128 bits never meet by chance."""
    with file.open("rb") as stream:
        return file_digest(stream, "sha256").hexdigest()[:32]


def _write_part(
    engine: "duckdb.DuckDBPyConnection", table: PartedTable, source: str, hour_at: datetime, published: Path
) -> Part | None:
    column = table.time_column
    aside = published / folder_of(table.name) / f".{hour_at:%Y-%m-%dT%H}"
    row_count = write_rows(
        engine,
        f"select * from {source} where {column} >= {_instant(hour_at)} "
        f"and {column} < {_instant(hour_at + timedelta(hours=1))} order by {table.sorted_by}",
        aside,
    )
    if row_count == 0:
        aside.unlink()
        return None
    name = f"{folder_of(table.name)}/{hour_at:%Y-%m-%dT%H}-{content_name(aside)}.parquet"
    aside.replace(published / name)
    return Part(table.name, hour_at, name, row_count, (published / name).stat().st_size)


def _instant(moment: datetime) -> str:
    return f"timestamptz '{moment.astimezone(UTC).isoformat()}'"
