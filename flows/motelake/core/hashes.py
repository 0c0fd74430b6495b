"""One content, one hash: a canonical JSON form of records, and its SHA-256."""

import json
from collections.abc import Iterable, Mapping
from dataclasses import fields, is_dataclass
from datetime import datetime, time
from hashlib import sha256

from motelake.core.instants import format_instant


def canonical_json(value: object) -> str:
    """The one JSON text of a record: names sorted, no spaces, times in UTC, fields of dataclasses by name."""
    return json.dumps(
        value, default=_plain, sort_keys=True, separators=(",", ":"), ensure_ascii=True, allow_nan=False
    )


def content_hash(value: object) -> str:
    """The SHA-256 of the canonical JSON, in 64 hexadecimal digits."""
    return sha256(canonical_json(value).encode("ascii")).hexdigest()


def unordered_hash(records: Iterable[object]) -> str:
    """The SHA-256 of records whose order says nothing."""
    return sha256("\n".join(sorted(map(canonical_json, records))).encode("ascii")).hexdigest()


def _plain(value: object) -> object:
    """What JSON knows in place of what it does not; asked for one value at a time, from the outside in."""
    if is_dataclass(value) and not isinstance(value, type):
        return {field.name: getattr(value, field.name) for field in fields(value)}
    if isinstance(value, datetime):
        return format_instant(value)
    if isinstance(value, time):
        return value.isoformat()
    if isinstance(value, Mapping):
        return dict(value)
    raise TypeError(f"{value!r} has no canonical form")
