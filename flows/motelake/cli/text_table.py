"""Rows as an aligned table for people."""

from collections.abc import Sequence
from datetime import datetime
from decimal import Decimal
from typing import Any
from zoneinfo import ZoneInfo

from motelake.cli.cells import people_cell


def text_table(names: Sequence[str], rows: Sequence[Sequence[Any]], zone: ZoneInfo) -> str:
    """The lines of a table: names on top, numbers under one another by their point, no line ends in blanks.

    Seconds are shown in columns that have any. Where the clocks of the zone changed during a column's times,
    each of them tells its offset from UTC.
    """
    columns = [_aligned(name, [row[position] for row in rows], zone) for position, name in enumerate(names)]
    lines = ["  ".join(cells).rstrip() for cells in zip(*columns, strict=True)]
    return "\n".join(lines)


def _aligned(name: str, values: Sequence[Any], zone: ZoneInfo) -> list[str]:
    cells = _cells(values, zone)
    is_number = any(value is not None for value in values) and all(
        value is None or (isinstance(value, int | float | Decimal) and not isinstance(value, bool))
        for value in values
    )
    if is_number:
        cells = _pointed(cells)
    width = max(len(cell) for cell in (name, *cells))
    body = [cell.rjust(width) if is_number else cell.ljust(width) for cell in (name, *cells)]
    return [body[0], "-" * width, *body[1:]]


def _cells(values: Sequence[Any], zone: ZoneInfo) -> list[str]:
    instants = [value for value in values if isinstance(value, datetime)]
    has_seconds = any(instant.second or instant.microsecond for instant in instants)
    offsets = {instant.astimezone(zone).utcoffset() for instant in instants if instant.tzinfo}
    cells = [people_cell(value, zone, has_seconds) for value in values]
    if len(offsets) < 2:
        return cells
    return [
        f"{cell} {value.astimezone(zone):%z}" if isinstance(value, datetime) and value.tzinfo else cell
        for cell, value in zip(cells, values, strict=True)
    ]


def _pointed(cells: Sequence[str]) -> list[str]:
    """Numbers filled up with blanks on the right, so that their points stand under one another."""
    behind = max(len(cell) - cell.find(".") if "." in cell else 0 for cell in cells)
    return [cell + " " * (behind - (len(cell) - cell.find(".") if "." in cell else 0)) for cell in cells]
