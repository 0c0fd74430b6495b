"""A raw object to staged rows and an account of them, by the ending of its name."""

from collections.abc import Callable
from typing import BinaryIO

import duckdb

from motelake.errors import UnknownFormatError
from motelake.formats.csv_long import read_csv_long
from motelake.formats.delivered import Delivered
from motelake.formats.json_lines import read_json_lines
from motelake.formats.plan import ObjectCount, ObjectRefused
from motelake.formats.senml_json import read_senml
from motelake.formats.staging import Ledger, Staging

_READERS: dict[str, Callable[[Delivered, Ledger], None]] = {
    ".jsonl": read_json_lines,
    ".senml.json": read_senml,
    ".csv": read_csv_long,
}
_COMPRESSIONS = ("", ".gz", ".zst")

KNOWN_ENDINGS = tuple(ending + compression for ending in _READERS for compression in _COMPRESSIONS)
"""What the name of a raw object may end in; the case of the letters counts."""


def parse_object(name: str, stream: BinaryIO, staging: Staging) -> ObjectCount | ObjectRefused:
    """Reads a raw object into the tables of staging and returns the account of its lines.

    Memory does not grow with the object. One beyond plan.bytes_per_object is refused as a whole: none of its
    rows stays in staging. Raises UnknownFormatError for a name that ends in none of KNOWN_ENDINGS; errors
    of the stream pass through, and the object's rows are taken back before.
    """
    ending, compression = split_ending(name)
    delivered = Delivered(stream, compression, staging.plan.bytes_per_object)
    ledger = Ledger(name, staging)
    try:
        _READERS[ending](delivered, ledger)
    except duckdb.Error:
        raise  # the transaction is lost, and with it every row
    except BaseException:
        staging.forget(name)
        raise
    if delivered.is_over:
        staging.forget(name)
        reason = (
            f"{name} was refused: unpacked it holds more than {staging.plan.bytes_per_object:,} bytes. "
            "Deliver it in parts, or raise bytes_per_object in [limits] of campaign.toml."
        )
        return ObjectRefused(name, delivered.size, delivered.sha256, reason)
    return ledger.count(delivered.size, delivered.sha256)


def split_ending(name: str) -> tuple[str, str]:
    """The ending that tells the format and the one that tells the compression ("" where there is none).

    Raises UnknownFormatError for any other name.
    """
    for ending in _READERS:
        for compression in _COMPRESSIONS:
            if name.endswith(ending + compression) and not name.endswith("/" + ending + compression):
                return ending, compression
    raise UnknownFormatError(name, KNOWN_ENDINGS)
