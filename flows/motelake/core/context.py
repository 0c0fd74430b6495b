"""Context: series and notes from outside the motes, one file a stream."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from pathlib import PurePosixPath

from motelake.core.cells import one_of, read_name, read_number, read_positive_number
from motelake.core.instants import parse_instant
from motelake.core.problems import Problems, unknown
from motelake.core.register import MEASURE_KINDS
from motelake.core.tables import Column, Table, check_known, check_unique, read_table

STREAMS = "context/streams.csv"

_STREAM_COLUMNS = (
    Column("stream", read_name, is_needed=True),
    Column("title", str),
    Column("unit", str),
    Column("kind", one_of(MEASURE_KINDS)),
    Column("max_age_min", read_positive_number),
)
_POINT_COLUMNS = (
    Column("at", parse_instant, is_needed=True),
    Column("value", read_number),
    Column("zone", read_name),
    Column("note", str),
)


@dataclass(frozen=True, slots=True)
class ContextStream:
    """A series from outside; a value older than max_age_min minutes no longer holds."""

    stream: str
    title: str | None
    unit: str | None
    kind: str | None
    max_age_min: float | None


@dataclass(frozen=True, slots=True)
class ContextPoint:
    """A value or a note of a stream at one time (UTC), for one zone or the whole venue."""

    stream: str
    at: datetime
    value: float | None
    zone: str | None
    note: str | None


@dataclass(frozen=True, slots=True)
class ContextTables:
    """streams.csv, and the table of each stream that has a file, by stream."""

    streams: Table
    points: dict[str, Table]


def read_context_tables(files: Mapping[str, bytes], problems: Problems) -> ContextTables:
    """context/ cell by cell; empty tables where there is nothing."""
    streams = Table(STREAMS, is_whole=True)
    if STREAMS in files:
        streams = read_table(STREAMS, files[STREAMS], _STREAM_COLUMNS, problems)
    points = {
        PurePosixPath(file).stem: read_table(file, files[file], _POINT_COLUMNS, problems)
        for file in sorted(files)
        if file != STREAMS and file.endswith(".csv") and PurePosixPath(file).parent.as_posix() == "context"
    }
    return ContextTables(streams, points)


def check_context(tables: ContextTables, zones: Table, problems: Problems) -> None:
    """Note streams that are not listed, empty points, values without a kind, and two values at one time."""
    check_unique(tables.streams, "stream", problems)
    listed = {row.values["stream"]: row for row in tables.streams.rows if row.values.get("stream")}
    for stream, table in tables.points.items():
        check_known(table, "zone", zones, "zone", problems)
        if stream in listed:
            # A kind that is there but mistaken is told once, at its own cell.
            _check_values(table, listed[stream].values.get("kind", "mistaken") is not None, problems)
        elif tables.streams.is_whole:
            problems.add(table.file, unknown(stream, f"is no stream of {STREAMS}", listed))


def build_context(tables: ContextTables) -> tuple[tuple[ContextStream, ...], tuple[ContextPoint, ...]]:
    """The streams, and all their points, of tables in which no mistake was found."""
    streams = tuple(ContextStream(**row.values) for row in tables.streams.rows)
    points = tuple(
        ContextPoint(stream=stream, **row.values)
        for stream, table in tables.points.items()
        for row in table.rows
    )
    return streams, points


def _check_values(table: Table, has_kind: bool, problems: Problems) -> None:
    first: dict[tuple[object, object], int] = {}
    for row in table.rows:
        if row.values.keys() < {"at", "value", "zone", "note"}:
            continue
        at, value, zone, note = (row.values[name] for name in ("at", "value", "zone", "note"))
        if value is None:
            if note is None:
                what = "neither value nor note is filled in; fill in one or take the row out"
                problems.add(table.file, what, row=row.line, column="value")
            continue
        if not has_kind:
            what = f"a value, but {STREAMS} gives the stream no kind; name one of {', '.join(MEASURE_KINDS)}"
            problems.add(table.file, what, row=row.line, column="value")
        earlier = first.setdefault((at, zone), row.line)
        if earlier != row.line:
            what = f"a second value for the time and zone of row {earlier}; keep one of the two"
            problems.add(table.file, what, row=row.line, column="value")
