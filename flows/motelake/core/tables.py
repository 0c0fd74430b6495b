"""CSV files of a campaign as rows of checked values, with every mistake noted where it stands."""

import codecs
import csv
import io
from collections.abc import Callable, Collection, Sequence, Set
from dataclasses import dataclass
from typing import Any

from motelake.core.cells import check_characters
from motelake.core.problems import Problems, advice, shown, unknown


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
    """The rows of one file; whole where the file is there and every row of it could be told apart."""

    file: str
    rows: tuple[Row, ...] = ()
    is_whole: bool = False

    def names(self, column: str) -> Set[str] | None:
        """The names in one column, or None where the file does not tell, so that none counts as unknown."""
        has_column = not self.rows or any(column in row.values for row in self.rows)
        if not self.is_whole or not has_column:
            return None
        return {row.values[column] for row in self.rows if row.values.get(column) is not None}


def read_table(file: str, content: bytes, columns: Sequence[Column], problems: Problems) -> Table:
    """The rows of a CSV file (RFC 4180, UTF-8, one header line); mistakes go to `problems`.

    A byte order mark and either line ending are tolerated, blank lines skipped, spaces around cells cut.
    """
    if content.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        problems.add(file, "is UTF-16, not UTF-8; save the file as UTF-8")
        return Table(file)
    # Bytes that are no UTF-8 become lone surrogates here, so that they are reported at their own cell.
    text = content.decode("utf-8-sig", errors="surrogateescape")
    records, broken = _records(text)
    if broken is not None:
        problems.add(file, "is no CSV from here on; look at its quotation marks", row=broken)
    if not records:
        problems.add(file, f"the file is empty; write the header {','.join(c.name for c in columns)}", row=1)
        return Table(file)
    (line, header), *records = records
    by_name = {column.name: column for column in columns}
    _check_header(file, line, header, by_name, problems)
    layout = [(position, by_name[name]) for position, name in enumerate(header) if name in by_name]
    rows = []
    for line, cells in records:
        if len(cells) == len(header):
            rows.append(_read_row(file, line, cells, layout, problems))
        else:
            what = f"has {len(cells)} cells where the header names {len(header)} columns; count the commas"
            problems.add(file, what, row=line)
    return Table(file, tuple(rows), is_whole=broken is None and len(rows) == len(records))


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


def check_known(table: Table, column: str, known: Table, name: str, problems: Problems) -> None:
    """Note every name, alone or joined by +, in a column of a table that column `name` of `known` lacks."""
    names = known.names(name)
    if names is not None:
        check_among(table, column, names, f"is no {name} of {known.file}", problems)


def check_among(table: Table, column: str, names: Collection[str], what: str, problems: Problems) -> None:
    """Note every name, alone or joined by +, in a column of a table that is not among these names."""
    for row in table.rows:
        for name in (row.values.get(column) or "").split("+"):
            if name and name not in names:
                problems.add(table.file, unknown(name, what, names), row=row.line, column=column)


def _records(text: str) -> tuple[list[tuple[int, list[str]]], int | None]:
    """The records with the line each begins at, and the line from which on they could not be told apart."""
    reader = csv.reader(io.StringIO(text, newline=""), strict=True)
    records = []
    line = 1
    try:
        for record in reader:
            cells = [cell.strip() for cell in record]
            if any(cells):
                records.append((line, cells))
            line = reader.line_num + 1
    except csv.Error:
        return records, line
    return records, None


def _read_row(
    file: str, line: int, cells: list[str], layout: list[tuple[int, Column]], problems: Problems
) -> Row:
    values: dict[str, Any] = {}
    for position, column in layout:
        try:
            values[column.name] = _read_cell(cells[position], column)
        except ValueError as mistake:
            problems.add(file, str(mistake), row=line, column=column.name)
    return Row(line, values)


def _check_header(
    file: str, line: int, header: list[str], known: dict[str, Column], problems: Problems
) -> None:
    if len(header) == 1 and ";" in header[0]:
        problems.add(file, "its cells are parted by ';'; write them parted by ','", row=line)
        return
    for position, name in enumerate(header):
        if name not in known:
            hint = advice(name, known, f"known are {', '.join(known)}")
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
