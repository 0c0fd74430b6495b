"""Raw objects to staged rows and an account of each, by the endings of their names."""

from collections.abc import Callable, Iterable, Iterator
from contextlib import AbstractContextManager
from dataclasses import dataclass
from typing import BinaryIO

from motelake.errors import UnknownFormatError
from motelake.formats.csv_long import read_csv_long
from motelake.formats.delivered import Delivered
from motelake.formats.json_lines import read_json_lines
from motelake.formats.ledger import Ledger
from motelake.formats.lines import Lines, read_lines
from motelake.formats.plan import ObjectCount, ObjectRefused
from motelake.formats.senml_json import read_senml
from motelake.formats.staging import Staging

_JSON_LINES = ".jsonl"
_READERS: dict[str, Callable[[Delivered, Ledger], None]] = {
    ".senml.json": read_senml,
    ".csv": read_csv_long,
}
_ENDINGS = (_JSON_LINES, *_READERS)
_COMPRESSIONS = ("", ".gz", ".zst")

KNOWN_ENDINGS = tuple(ending + compression for ending in _ENDINGS for compression in _COMPRESSIONS)
"""What the name of a raw object may end in; the case of the letters counts."""


@dataclass(frozen=True)
class RawObject:
    """An object to be read; open may raise FileNotFoundError where it was taken away."""

    name: str
    open: Callable[[], AbstractContextManager[BinaryIO]]


def parse_objects(objects: Iterable[RawObject], staging: Staging) -> dict[str, ObjectCount | ObjectRefused]:
    """Reads raw objects into the tables of staging and returns the account of each, by its name.

    Memory does not grow with the objects. One beyond plan.bytes_per_object is refused as a whole: none of its
    rows stays in staging. One that was taken away has no account, and no rows either. Raises
    UnknownFormatError for a name that ends in none of KNOWN_ENDINGS. After an error of a stream, which passes
    through, nothing in staging counts.
    """
    lines_of_json: list[tuple[RawObject, Ledger]] = []
    ledgers: list[Ledger] = []
    for raw in objects:
        ending, _ = split_ending(raw.name)
        ledger = staging.begin(raw.name)
        ledgers.append(ledger)
        if ending == _JSON_LINES:
            lines_of_json.append((raw, ledger))
        else:
            _read_alone(raw, ledger, _READERS[ending])
    read_json_lines(_draw(lines_of_json), staging)
    staging.settle(ledgers)
    accounts = {ledger.name: ledger.account() for ledger in ledgers}
    return {name: account for name, account in accounts.items() if account is not None}


def _read_alone(raw: RawObject, ledger: Ledger, read: Callable[[Delivered, Ledger], None]) -> None:
    try:
        with raw.open() as stream:
            read(ledger.open(stream, split_ending(raw.name)[1]), ledger)
    except FileNotFoundError:
        ledger.is_gone = True


def _draw(objects: Iterable[tuple[RawObject, Ledger]]) -> Iterator[tuple[Ledger, Lines]]:
    """Lines of one object after the other: a statement for each would cost more than its lines."""
    for raw, ledger in objects:
        try:
            with raw.open() as stream:
                delivered = ledger.open(stream, split_ending(raw.name)[1])
                for lines in read_lines(delivered, ledger.plan.bytes_per_line):
                    yield ledger, lines
        except FileNotFoundError:
            ledger.is_gone = True


def split_ending(name: str) -> tuple[str, str]:
    """The ending that tells the format and the one that tells the compression ("" where there is none).

    Raises UnknownFormatError for any other name.
    """
    for ending in _ENDINGS:
        for compression in _COMPRESSIONS:
            if name.endswith(ending + compression) and not name.endswith("/" + ending + compression):
                return ending, compression
    raise UnknownFormatError(name, KNOWN_ENDINGS)
