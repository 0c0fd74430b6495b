"""Answers on stdout, or in a file, in the format that was asked for."""

import csv
import io
import json
import re
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from math import copysign, inf
from pathlib import Path
from typing import TYPE_CHECKING, Any, BinaryIO
from zoneinfo import ZoneInfo

import click

from motelake.cli.cells import comma_cell, plain
from motelake.cli.text_table import text_table

if TYPE_CHECKING:
    import pyarrow as pa

# Rows made into Python values at once: bounds what a large answer needs beside itself.
ROWS_AT_ONCE = 10_000


def write_rows(table: "pa.Table", form: str, output: Path | None, zone: ZoneInfo) -> None:
    """Writes the rows of an answer.

    Raises click.UsageError where Parquet would land on a terminal.
    """
    if form == "parquet" and output is None and sys.stdout.isatty():
        raise click.UsageError("Parquet is nothing for a terminal: name a file with --output, or use a pipe.")
    with _opened(output) as sink:
        if form == "parquet":
            _write_parquet(table, sink)
        elif form == "text":
            sink.write(text_of(table, zone).encode() + b"\n")
        else:
            for piece in _json_pieces(table) if form == "json" else _csv_pieces(table):
                sink.write(piece.encode())


def write_record(record: Any) -> None:
    """Writes a report for programs on stdout."""
    click.echo(json.dumps(plain(record), indent=1, ensure_ascii=False))


def text_of(table: "pa.Table", zone: ZoneInfo) -> str:
    """The rows as people read them, with the zone of their times named once."""
    if table.num_rows == 0:
        return "no rows"
    rows = [row for batch in _rows(table) for row in batch]
    text = text_table(table.column_names, rows, zone)
    has_instants = any(getattr(field.type, "tz", None) for field in table.schema)
    return f"{text}\n\nTimes are those of {zone.key}." if has_instants else text


@contextmanager
def _opened(output: Path | None) -> Iterator[BinaryIO]:
    if output is None:
        yield sys.stdout.buffer
        sys.stdout.buffer.flush()
        return
    try:
        with output.open("wb") as sink:
            yield sink
    except OSError as error:
        raise click.UsageError(f"{output} cannot be written: {error.strerror}.") from error


def _write_parquet(table: "pa.Table", sink: BinaryIO) -> None:
    import pyarrow.parquet as pq

    # Parquet writers seek, a pipe cannot.
    whole = io.BytesIO()
    pq.write_table(table, whole, compression="zstd")
    sink.write(whole.getvalue())


def _rows(table: "pa.Table") -> Iterator[list[tuple[Any, ...]]]:
    for batch in table.to_batches(max_chunksize=ROWS_AT_ONCE):
        yield list(zip(*map(_values, batch.columns), strict=True))


def _values(column: "pa.Array") -> list[Any]:
    if not re.match(r"timestamp\[us", str(column.type)):
        values: list[Any] = column.to_pylist()
        return values
    # pyarrow imports pandas to make a time, which takes longer than most answers do.
    epoch = datetime(1970, 1, 1, tzinfo=UTC if column.type.tz else None)
    return [_moment(epoch, us) for us in column.view("int64").to_pylist()]


def _moment(epoch: datetime, since_us: int | None) -> datetime | float | None:
    if since_us is None:
        return None
    try:
        return epoch + timedelta(microseconds=since_us)
    except OverflowError:
        # No end, or none that a calendar knows: treated as an infinite number is.
        return copysign(inf, since_us)


def _json_pieces(table: "pa.Table") -> Iterator[str]:
    names = table.column_names
    before = "["
    for batch in _rows(table):
        for row in batch:
            record = dict(zip(names, map(plain, row), strict=True))
            yield f"{before}\n{json.dumps(record, ensure_ascii=False)}"
            before = ","
    yield "[]\n" if before == "[" else "\n]\n"


def _csv_pieces(table: "pa.Table") -> Iterator[str]:
    yield _csv_lines([table.column_names])
    for batch in _rows(table):
        yield _csv_lines([[comma_cell(value) for value in row] for row in batch])


def _csv_lines(rows: list[list[str]]) -> str:
    text = io.StringIO()
    csv.writer(text, lineterminator="\n").writerows(rows)
    return text.getvalue()
