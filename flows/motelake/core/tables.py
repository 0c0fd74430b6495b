"""CSV files of a campaign as rows of checked values, with every mistake noted where it stands."""

import csv
import io
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from motelake.core.cells import check_characters
from motelake.core.instants import format_instant
from motelake.core.names import nearest_name
from motelake.core.problems import Problems, shown


@dataclass(frozen=True, slots=True)
class Column:
    """A column of a file: how a cell is read, whether every row must fill it, whether it may be absent."""

    name: str
    read: Callable[[str], Any]
    is_needed: bool = False
    is_optional: bool = False


@dataclass(frozen=True, slots=True)
class Row:
    """The values of one row by column; empty cells are None, mistaken ones are left out."""

    line: int
    values: dict[str, Any]


@dataclass(frozen=True, slots=True)
class Table:
    """The rows of one file; a file that is not there has none."""

    file: str
    rows: tuple[Row, ...] = ()
    is_there: bool = False

    def values_of(self, column: str) -> set[str]:
        """The distinct values in one column, of rows whose other cells may be mistaken."""
        return {row.values[column] for row in self.rows if row.values.get(column) is not None}


def read_table(file: str, content: bytes, columns: Sequence[Column], problems: Problems) -> Table:
    """The rows of a CSV file (RFC 4180, UTF-8, one header line); mistakes go to `problems`.

    A byte order mark and either line ending are tolerated, blank lines skipped, spaces around cells cut.
    """
    # Bytes that are no UTF-8 become lone surrogates here, so that they are reported at their own cell.
    text = content.decode("utf-8-sig", errors="surrogateescape")
    records = _records(file, text, problems)
    line, header = next(records, (1, []))
    if not header:
        problems.add(file, f"the file is empty; write the header {','.join(c.name for c in columns)}", row=1)
        return Table(file, is_there=True)
    by_name = {column.name: column for column in columns}
    _check_header(file, line, header, by_name, problems)
    layout = [(name, by_name[name]) for name in header if name in by_name]
    rows = []
    for line, cells in records:
        if len(cells) != len(header):
            what = f"has {len(cells)} cells where the header names {len(header)} columns; count the commas"
            problems.add(file, what, row=line)
            continue
        positions = dict(zip(header, cells, strict=True))
        values: dict[str, Any] = {}
        for name, column in layout:
            try:
                values[name] = _read_cell(positions[name], column)
            except ValueError as mistake:
                problems.add(file, str(mistake), row=line, column=name)
        rows.append(Row(line, values))
    return Table(file, tuple(rows), is_there=True)


def check_unique(table: Table, column: str, problems: Problems) -> None:
    """Note every row that repeats a value which an earlier row of the table has in this column."""
    first: dict[str, int] = {}
    for row in table.rows:
        value = row.values.get(column)
        if value is None:
            continue
        if value in first:
            what = f"{shown(value)} is already in row {first[value]}; keep one of the two"
            problems.add(table.file, what, row=row.line, column=column)
        else:
            first[value] = row.line


def write_table(columns: Sequence[Column], rows: Iterable[object]) -> bytes:
    """The CSV file that reads back as these rows: objects with one attribute a column."""
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(column.name for column in columns)
    for row in rows:
        writer.writerow(_written(getattr(row, column.name)) for column in columns)
    return text.getvalue().encode("utf-8")


def _records(file: str, text: str, problems: Problems) -> Iterator[tuple[int, list[str]]]:
    reader = csv.reader(io.StringIO(text, newline=""), strict=True)
    line = 1
    try:
        for record in reader:
            cells = [cell.strip() for cell in record]
            if any(cells):
                yield line, cells
            line = reader.line_num + 1
    except csv.Error as mistake:
        problems.add(file, f"is no CSV from here on ({mistake}); look at its quotation marks", row=line)


def _check_header(
    file: str, line: int, header: list[str], known: dict[str, Column], problems: Problems
) -> None:
    if len(header) == 1 and ";" in header[0]:
        problems.add(file, "its cells are parted by ';'; write them parted by ','", row=line)
        return
    for position, name in enumerate(header):
        if name not in known:
            nearest = nearest_name(name, known)
            hint = f"did you mean {nearest!r}?" if nearest else f"known are {', '.join(known)}"
            problems.add(file, f"{shown(name)} is no column of this file; {hint}", row=line)
        elif name in header[:position]:
            problems.add(file, "the column stands there twice; keep one", row=line, column=name)
    for name, column in known.items():
        if name not in header and not column.is_optional:
            what = "the column is missing; add it to the header, its cells may be empty"
            problems.add(file, what, row=line, column=name)


def _read_cell(cell: str, column: Column) -> Any:
    if not cell:
        if column.is_needed:
            raise ValueError("is empty; it must be filled in")
        return None
    return column.read(check_characters(cell))


def _written(value: object) -> str:
    if value is None:
        return ""
    if isinstance(value, datetime):
        return format_instant(value)
    return str(value)
