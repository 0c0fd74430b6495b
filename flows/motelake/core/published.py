"""What published/ holds at a moment: which snapshot is current, and which files nobody names any more.

All names are relative to published/, so that a lake may be moved or copied.
"""

import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass
from datetime import datetime, timedelta

from motelake.core.instants import format_instant, parse_instant
from motelake.errors import StoreError

# How often a published answer is made again.
REFRESHES = ("run", "hour", "day")
CURRENT_FILE = "published/current.json"
LEAVING_FILE = "published/leaving.json"
# Someone who opened a snapshot just before it was replaced may read from it for a day.
KEPT_FOR = timedelta(hours=24)


@dataclass(frozen=True)
class Current:
    """The snapshot readers open: its file, the parts it names by table, and the span of its data."""

    id: str
    snapshot: str
    made_at: datetime
    title: str
    parts: Mapping[str, Sequence[str]]
    data_from: datetime | None
    data_to: datetime | None
    versions: Mapping[str, str]

    def names(self) -> set[str]:
        """Every file the snapshot needs, itself among them."""
        return {self.snapshot}.union(*self.parts.values())

    def to_json(self) -> bytes:
        """As it stands in published/current.json; times RFC 3339."""
        record = asdict(self)
        for key in ("made_at", "data_from", "data_to"):
            record[key] = format_instant(record[key]) if record[key] else None
        return _to_json(record)

    @classmethod
    def from_json(cls, data: bytes) -> "Current":
        """The inverse of to_json; raises StoreError where the file is no such record."""
        try:
            record = json.loads(data)
            for key in ("made_at", "data_from", "data_to"):
                record[key] = parse_instant(record[key]) if record[key] else None
            return cls(**record)
        except (ValueError, TypeError, KeyError) as error:
            raise StoreError(
                f"{CURRENT_FILE} cannot be read ({error}). Take it away and run 'motelake publish' again."
            ) from error


@dataclass(frozen=True)
class Leaving:
    """Files that nothing current is known to name, each with the time since when.

    A file enters before it is written and before it is let go, so that a publisher that dies leaves nothing
    behind that nobody would ever take away.
    """

    since: Mapping[str, datetime]

    def noted(self, names: Iterable[str], now: datetime) -> "Leaving":
        """The same with these names let go now."""
        return Leaving({**self.since, **dict.fromkeys(names, now)})

    def without(self, names: Iterable[str]) -> "Leaving":
        """The same without these names."""
        gone = set(names)
        return Leaving({name: at for name, at in self.since.items() if name not in gone})

    def overdue(self, now: datetime) -> list[str]:
        """What was let go a day ago or earlier, in order."""
        return sorted(name for name, at in self.since.items() if at + KEPT_FOR <= now)

    def to_json(self) -> bytes:
        """As it stands in the lake."""
        return _to_json({name: format_instant(at) for name, at in sorted(self.since.items())})

    @classmethod
    def from_json(cls, data: bytes, file: str = LEAVING_FILE) -> "Leaving":
        """The inverse of to_json; raises StoreError where the file is no such record."""
        try:
            return cls({name: parse_instant(at) for name, at in json.loads(data).items()})
        except (ValueError, TypeError, AttributeError) as error:
            raise StoreError(
                f"{file} cannot be read ({error}). Take it away: it is made again, and nothing is lost."
            ) from error


def _to_json(record: object) -> bytes:
    return (json.dumps(record, indent=1, ensure_ascii=False) + "\n").encode()
