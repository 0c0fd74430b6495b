"""CSV in long form, one reading a row: mote, received_at, measure, value and what else the header names."""

import csv
import re
from collections.abc import Sequence

from motelake.core.reasons import LineReason
from motelake.formats.acceptance import FIELDS, LineRejectedError, accept
from motelake.formats.delivered import Delivered
from motelake.formats.ledger import Ledger
from motelake.formats.lines import read_lines
from motelake.formats.plan import Hearing, LineReject, ReadingPlan

_REQUIRED = frozenset({"mote", "received_at", "measure", "value"})
_NUMBERS = ("seq", "rssi_dbm", "battery_v", "value")
_JSON_NUMBER = re.compile(r"-?(?:0|[1-9]\d*)(?:\.\d+)?(?:[eE][+-]?\d+)?", re.ASCII)
_NOT_FINITE = re.compile(r"[+-]?(?:nan|inf|infinity)", re.IGNORECASE | re.ASCII)


def read_csv_long(delivered: Delivered, ledger: Ledger) -> None:
    """Stages every row of an object; its line is that of the file, and the header is none.

    A row is one line of the file: line ends inside quotation marks, which RFC 4180 allows, make bad records,
    for no name or number needs them and one stray mark would swallow the rest. Where the header cannot be
    read, lacks a column or names one twice, every row is a bad_record.
    """
    header: Sequence[str] | None = None
    for part in read_lines(delivered, ledger.plan.bytes_per_line):
        ledger.take_all(part.rejects)
        for line, text in part.pairs():
            if not text.strip(" \t\r\n"):
                continue
            if header is None and not any(reject.line < line for reject in part.rejects):
                header = _read_header(text)
            else:
                ledger.take(read_csv_row(line, text, header or (), ledger.plan))
        if part.rejects:
            # A first line that is no text was the header, and nobody knows what it said.
            header = header or ()


def read_csv_row(line: int, text: str, header: Sequence[str], plan: ReadingPlan) -> Hearing | LineReject:
    """The hearing that a row tells, or why it was rejected.

    An empty cell tells nothing; an empty value is a reading that is no number. Numbers are written as in
    JSON, or as nan and inf; a decimal comma or a space is not guessed at.
    """
    cells = _cells(text)
    if not header or cells is None or len(cells) != len(header):
        return LineReject(line, LineReason.BAD_RECORD)
    told: dict[str, object] = {name: cell for name, cell in zip(header, cells, strict=True) if cell}
    for name in _NUMBERS:
        if name in told:
            told[name] = _number(str(told[name]))
    measure, value = told.pop("measure", None), told.pop("value", None)
    readings = None if measure is None else [(str(measure), value)]
    # A column of this name is none of ours, whatever the word means elsewhere.
    unknown = [name for name in told if name not in FIELDS or name == "readings"]
    try:
        return accept(
            line, {name: told[name] for name in told if name not in unknown}, readings, plan, unknown
        )
    except LineRejectedError as rejected:
        return LineReject(line, rejected.reason, rejected.mote)


def _read_header(text: str) -> Sequence[str]:
    """The names of the columns, or none where they are no header of this format."""
    names = _cells(text) or []
    return names if len(set(names)) == len(names) and _REQUIRED.issubset(names) else ()


def _cells(text: str) -> list[str] | None:
    try:
        return next(csv.reader([text.rstrip("\r\n")], strict=True), None)
    except csv.Error:
        return None


def _number(cell: str) -> float | str:
    return float(cell) if _JSON_NUMBER.fullmatch(cell) or _NOT_FINITE.fullmatch(cell) else cell
