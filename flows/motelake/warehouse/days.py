"""Published days: at night the hours of a day that is over become one file a table.

work.part keeps its row for every hour; a row of work.day_part stands for all hours of its day as long as none
of them changed. So an hour that changes late costs that hour alone: while the files of the other hours are
still there they are named again.
"""

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from motelake.core.compaction import is_over
from motelake.engine import transaction
from motelake.warehouse.parts import PARTED, Part, content_name, folder_of, write_rows
from motelake.warehouse.statements import literal

if TYPE_CHECKING:
    import duckdb

# Hours of a larger day are healthy files of their own, and sorting them would take more than memory.
DAY_BYTES_AT_MOST = 256 * 2**20

_TABLE = """
create table if not exists work.day_part (
    table_name varchar not null, day_at timestamptz not null, part varchar not null, hours varchar[] not null,
    row_count bigint not null, byte_count bigint not null
)
"""
_HOURS = """
select table_name, date_trunc('day', hour_at) as day_at, list(part order by hour_at, part) as hours,
    sum(byte_count)::bigint as byte_count
from work.part group by all
"""


@dataclass(frozen=True)
class Day:
    """One table's hours of one UTC day: the parts, relative to published/, in order of time."""

    table: str
    day_at: datetime
    hours: tuple[str, ...]
    byte_count: int


def prepare_days(engine: "duckdb.DuckDBPyConnection") -> None:
    """Makes the record of published days where it is missing."""
    engine.execute(_TABLE)


def dissolve_days(engine: "duckdb.DuckDBPyConnection", known: Collection[str]) -> None:
    """Takes days off the record whose hours changed, are about to, or whose file the lake does not know."""
    engine.execute(
        f"""
        delete from work.day_part as day
        where part not in (select unnest($known))
            or day_at in (select date_trunc('day', hour_at) from work.dirty_hour)
            or (table_name, day_at, hours) not in (select (table_name, day_at, hours) from ({_HOURS}))
        """,
        {"known": list(known)},
    )


def parts_with_days(engine: "duckdb.DuckDBPyConnection") -> list[Part]:
    """The parts that make up the warehouse as last written: days where there are, hours elsewhere."""
    rows = engine.execute(
        """
        select table_name, day_at as from_at, part, row_count, byte_count from work.day_part
        union all
        select table_name, hour_at, part, row_count, byte_count from work.part
        where (table_name, date_trunc('day', hour_at)) not in
            (select (table_name, day_at) from work.day_part)
        order by all
        """
    ).fetchall()
    return [Part(table, from_at.astimezone(UTC), *rest) for table, from_at, *rest in rows]


def days_to_make(engine: "duckdb.DuckDBPyConnection", now: datetime) -> Iterator[Day]:
    """The days that are over and still lie in several small hours."""
    rows = engine.execute(
        f"""
        select table_name, day_at, hours, byte_count from ({_HOURS})
        where (table_name, day_at) not in (select (table_name, day_at) from work.day_part)
            and len(hours) > 1 and byte_count <= {DAY_BYTES_AT_MOST}
        order by day_at, table_name
        """
    ).fetchall()
    ((newest,),) = engine.execute("select max(hour_at) from work.part").fetchall()
    for table, day_at, hours, byte_count in rows:
        day = Day(table, day_at.astimezone(UTC), tuple(hours), byte_count)
        if is_over(day.day_at.date(), newest.astimezone(UTC).date(), now):
            yield day


def write_day(engine: "duckdb.DuckDBPyConnection", day: Day, hours: Sequence[Path], published: Path) -> Part:
    """Writes one day of these hours (local files) below the local folder published, in the table's order."""
    folder = published / folder_of(day.table)
    folder.mkdir(parents=True, exist_ok=True)
    aside = folder / ".next"
    source = ", ".join(literal(str(hour)) for hour in hours)
    rows = write_rows(engine, f"from read_parquet([{source}]) order by {PARTED[day.table].sorted_by}", aside)
    name = f"{folder_of(day.table)}/{day.day_at:%Y-%m-%d}-{content_name(aside)}.parquet"
    aside.replace(published / name)
    return Part(day.table, day.day_at, name, rows, (published / name).stat().st_size)


def record_days(engine: "duckdb.DuckDBPyConnection", made: Mapping[Day, Part]) -> None:
    """Takes days into the record, all at once."""
    with transaction(engine):
        for day, part in made.items():
            engine.execute(
                "insert into work.day_part by name select ? as table_name, ?::timestamptz as day_at, "
                "? as part, ? as hours, ? as row_count, ? as byte_count",
                [day.table, day.day_at, part.name, list(day.hours), part.row_count, part.byte_count],
            )
