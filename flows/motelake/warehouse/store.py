"""The warehouse file: opened by one writer at a time, made from the library's tables, tied to its lake."""

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import duckdb

from motelake.config import Config
from motelake.engine import open_engine, transaction
from motelake.errors import DamagedError, InputError
from motelake.library import read_library, table_statements

SCHEMA_VERSION = 8

_WORK_TABLES = (
    "create schema if not exists work",
    "create table work.state (key varchar primary key, value varchar not null)",
    "create table work.hearing (object varchar not null, line bigint not null, mote varchar not null, "
    "seq bigint, gateway varchar, received_at timestamptz not null, rssi_dbm double, battery_v double, "
    "batch bigint not null)",
    "create table work.duplicate (object varchar not null, line bigint not null, mote varchar not null)",
    "create table work.dirty_hour (hour_at timestamptz not null)",
    "create table work.ten_minute (mote varchar not null, measure varchar not null, "
    "bucket_at timestamptz not null, value double not null)",
    "create table work.odd (mote varchar not null, measure varchar not null, bucket_at timestamptz not null)",
    "create table work.mote_hour (mote varchar not null, measure varchar not null, "
    "from_at timestamptz not null, hour_at timestamptz not null, value double not null)",
    "create table work.course (mote varchar not null, boot integer not null, low_us bigint not null, "
    "high_us bigint not null, last_us bigint not null, floor_us bigint, "
    "below_us bigint, above_us bigint, late_seq bigint, "
    "seq_from bigint not null, slow_ns bigint, fast_ns bigint not null)",
    "create table work.late (object varchar not null, line bigint not null, mote varchar not null, "
    "is_torn boolean not null)",
    "create table work.reached (measure varchar not null, mote varchar not null, "
    "from_at timestamptz not null, to_at timestamptz not null)",
    "create table work.reach_of_bursts (from_at timestamptz not null, to_at timestamptz not null)",
    "create table work.mote_period (mote varchar not null, bucket integer, period_us bigint not null, "
    "drift_ns bigint not null)",
)


def open_warehouse(config: Config) -> duckdb.DuckDBPyConnection:
    """The warehouse of this configuration, open for writing, with its tables; made where it is missing.

    Raises LockedError where another process is at work in it, DamagedError where it cannot be read,
    InputError where another version of motelake made it.
    """
    config.warehouse.parent.mkdir(parents=True, exist_ok=True)
    engine = open_engine(
        config.warehouse,
        memory=config.memory,
        threads=config.threads,
        spill_folder=config.work_folder or Path(f"{config.warehouse}.tmp"),
    )
    # Rows are sorted where their order matters; keeping it everywhere would cost memory on large loads.
    engine.execute("set preserve_insertion_order = false")
    if not has_work_table(engine, "state"):
        make_tables(engine)
    version = read_state(engine, "schema_version")
    if version != str(SCHEMA_VERSION):
        engine.close()
        raise InputError(
            f"{config.warehouse} was made by another version of motelake (its tables are version {version}, "
            f"this one writes {SCHEMA_VERSION}). Run `motelake rebuild {config.lake}`: everything in it "
            "comes from the lake."
        )
    return engine


def files_of(warehouse: Path) -> tuple[Path, Path]:
    """The warehouse file, and the one in which DuckDB keeps what is not in it yet."""
    return warehouse, Path(f"{warehouse}.wal")


def remove_warehouse(warehouse: Path) -> None:
    """Takes a warehouse away; nothing happens where there is none."""
    for file in files_of(warehouse):
        file.unlink(missing_ok=True)


@contextmanager
def told_how_to_mend(config: Config) -> Iterator[None]:
    """Adds the call that makes a damaged warehouse anew to the error that tells of it."""
    try:
        yield
    except DamagedError as error:
        raise DamagedError(
            f"{error} Run `motelake rebuild {config.lake}`: everything in it comes from the lake."
        ) from error


def refuse_missing(config: Config) -> None:
    """Raises InputError where there is no warehouse yet."""
    if not config.warehouse.is_file():
        raise InputError(
            f"There is no warehouse at {config.warehouse}. Run 'motelake run {config.lake}' first, or name "
            "another file with --warehouse."
        )


def read_state(engine: duckdb.DuckDBPyConnection, key: str) -> str | None:
    """A small fact that the warehouse remembers, None where it does not."""
    row = engine.execute("select value from work.state where key = $key", {"key": key}).fetchone()
    return row[0] if row else None


def read_version(engine: duckdb.DuckDBPyConnection) -> str | None:
    """The version of the tables in an open file, None where it holds none of motelake's."""
    return read_state(engine, "schema_version") if has_work_table(engine, "state") else None


def write_state(engine: duckdb.DuckDBPyConnection, key: str, value: str) -> None:
    """Remembers a small fact."""
    engine.execute("insert or replace into work.state values ($key, $value)", {"key": key, "value": value})


def has_work_table(engine: duckdb.DuckDBPyConnection, name: str) -> bool:
    """True where a table of this name stands in the schema work."""
    row = engine.execute(
        "select count(*) from duckdb_tables() where schema_name = 'work' and table_name = $name",
        {"name": name},
    ).fetchone()
    return bool(row and row[0])


def make_tables(engine: duckdb.DuckDBPyConnection) -> None:
    """Makes every table of the warehouse, empty."""
    with transaction(engine):
        for statement in (*table_statements(read_library()), *_WORK_TABLES):
            engine.execute(statement)
        write_state(engine, "schema_version", str(SCHEMA_VERSION))
