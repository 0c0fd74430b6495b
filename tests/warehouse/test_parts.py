"""Parts: which rows go where, and that one content has one name."""

from datetime import UTC, datetime, timedelta
from pathlib import Path

import duckdb
import pyarrow.parquet as pq
import pytest

from motelake.engine import open_engine
from motelake.warehouse.parts import (
    PARTED,
    changed_hours,
    in_loads,
    prepare_parts,
    record_parts,
    recorded_parts,
    write_parts,
)
from motelake.warehouse.snapshot import parts_by_table
from motelake.warehouse.store import make_tables

NINE = datetime(2031, 5, 9, 9, tzinfo=UTC)
HOURS = [NINE, NINE + timedelta(hours=1)]


@pytest.fixture
def filled() -> duckdb.DuckDBPyConnection:
    """Two hours of readings, more of them than one row group of Parquet holds."""
    warehouse = open_engine()
    make_tables(warehouse)
    warehouse.execute(
        """
        insert into reading by name
        select (hash(n) >> 1)::bigint as burst, 'M' || n % 50 as mote, 'temperature' as measure,
               ?::timestamptz + to_milliseconds(n * 24) as sampled_at, n % 7 as value, 1 as flag
        from range(300_000) as a(n)
        """,
        [NINE],
    )
    prepare_parts(warehouse)
    return warehouse


def test_an_hour_holds_its_own_rows_from_start_to_before_the_end(
    filled: duckdb.DuckDBPyConnection, tmp_path: Path
) -> None:
    first, second = write_parts(filled, HOURS, tmp_path)
    assert (first.row_count, second.row_count) == (150_000, 150_000)
    times = pq.read_table(tmp_path / first.name)["sampled_at"].to_pylist()
    assert (min(times), max(times)) == (NINE, HOURS[1] - timedelta(milliseconds=24))
    assert first.byte_count == (tmp_path / first.name).stat().st_size


@pytest.mark.parametrize("threads", [1, 4])
def test_the_same_rows_make_the_same_file_whatever_their_order_and_the_threads(
    filled: duckdb.DuckDBPyConnection, tmp_path: Path, threads: int
) -> None:
    names = [part.name for part in write_parts(filled, HOURS, tmp_path)]
    filled.execute("create table shuffled as from reading order by hash(burst)")
    filled.execute("delete from reading; insert into reading from shuffled")
    filled.execute("set preserve_insertion_order = false")
    filled.execute("set threads = ?", [threads])
    assert [part.name for part in write_parts(filled, HOURS, tmp_path)] == names


def test_rows_are_sorted_for_those_who_read_one_mote(
    filled: duckdb.DuckDBPyConnection, tmp_path: Path
) -> None:
    part, _ = write_parts(filled, HOURS, tmp_path)
    rows = pq.read_table(tmp_path / part.name, columns=["mote", "measure", "sampled_at"]).to_pandas()
    assert rows.equals(rows.sort_values(["mote", "measure", "sampled_at"], ignore_index=True))


def test_a_value_that_changed_makes_another_name(filled: duckdb.DuckDBPyConnection, tmp_path: Path) -> None:
    before = write_parts(filled, HOURS, tmp_path)
    filled.execute("update reading set flag = 4 where sampled_at = ?", [HOURS[1]])
    after = write_parts(filled, HOURS, tmp_path)
    assert after[0] == before[0]
    assert after[1].name != before[1].name


def test_the_record_of_parts_follows_the_hours_written(
    filled: duckdb.DuckDBPyConnection, tmp_path: Path
) -> None:
    filled.execute("insert into work.dirty_hour select unnest(?)", [HOURS])
    parts = write_parts(filled, HOURS, tmp_path)
    record_parts(filled, HOURS, parts)
    assert recorded_parts(filled) == parts
    assert changed_hours(filled) == set()
    filled.execute("delete from reading where sampled_at < ?", [HOURS[1]])
    record_parts(filled, HOURS[:1], write_parts(filled, HOURS[:1], tmp_path))
    assert recorded_parts(filled) == parts[1:]


def test_every_part_is_sorted_by_columns_that_name_a_row(warehouse: duckdb.DuckDBPyConnection) -> None:
    for table in PARTED.values():
        columns = warehouse.execute(f"select {table.sorted_by}, {table.time_column} from {table.name}")
        assert columns.fetchall() == []


def test_the_longest_part_is_named_first_so_that_the_engine_expects_many_rows(
    filled: duckdb.DuckDBPyConnection, tmp_path: Path
) -> None:
    short = NINE - timedelta(hours=1)
    filled.execute(
        "insert into reading by name select -1 as burst, 'M1' as mote, 'temperature' as measure,"
        " ?::timestamptz as sampled_at, 1.0 as value, 1 as flag",
        [short],
    )
    parts = write_parts(filled, [short, *HOURS], tmp_path)
    names = parts_by_table(filled, parts, tmp_path)["reading"]
    assert names == [parts[1].name, parts[0].name, parts[2].name]
    files = [str(tmp_path / name) for name in names]
    ((_, plan),) = filled.execute("explain select * from read_parquet(?)", [files]).fetchall()
    assert "~450,000 rows" in plan


def test_hours_go_in_loads_of_so_many_bursts_and_none_is_left_out(
    filled: duckdb.DuckDBPyConnection, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("motelake.warehouse.parts.BURSTS_AT_ONCE", 10)
    for hour, bursts in enumerate((3, 7, 1, 25, 0, 4)):
        filled.execute(
            "insert into burst by name select n as burst, 'M1' as mote, 0 as boot, 'fitted' as time_quality, "
            "heard_at as received_at, heard_at as sampled_at, 0 as delay_s, 1 as batch "
            "from (select n, ?::timestamptz + to_seconds(n) as heard_at from range(?) as a(n))",
            [NINE + timedelta(hours=hour), bursts],
        )
    hours = [NINE + timedelta(hours=hour) for hour in range(6)]
    loads = [[hour_at.hour - 9 for hour_at in load] for load in in_loads(filled, hours)]
    assert loads == [[0, 1], [2], [3], [4, 5]]
    assert list(in_loads(filled, [])) == []
