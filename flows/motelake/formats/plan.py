"""What the register lets in, and what became of an object that was read by it."""

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from functools import cached_property

from motelake.core.names import is_measure_name
from motelake.core.pending import OTHER_FIELDS
from motelake.core.reasons import LineReason, ReadingReason

NAMES_COUNTED = 100


@dataclass(frozen=True)
class ReadingPlan:
    """The part of a campaign that decides what is read from a raw object.

    measures maps each registered measure to its SenML unit. A burst is accepted when
    starts_at <= received_at < accepts_until. bytes_per_object counts uncompressed bytes.
    """

    measures: Mapping[str, str]
    motes: frozenset[str]
    starts_at: datetime
    accepts_until: datetime
    bytes_per_object: int = 2**30
    bytes_per_line: int = 65536

    @cached_property
    def mote_numbers(self) -> Mapping[str, int]:
        """A number for each registered mote, in the order of their names."""
        return {mote: number for number, mote in enumerate(sorted(self.motes))}


@dataclass(frozen=True)
class Hearing:
    """One accepted line: a burst as it was heard once, in units of the register.

    reading_rejects holds (measure, reason); dropped holds a name for each field that was left out.
    """

    line: int
    mote: str
    received_at: datetime
    seq: int | None = None
    gateway: str | None = None
    rssi_dbm: float | None = None
    battery_v: float | None = None
    readings: Mapping[str, float] = field(default_factory=dict)
    reading_rejects: tuple[tuple[str, ReadingReason], ...] = ()
    dropped: tuple[str, ...] = ()


@dataclass(frozen=True)
class LineReject:
    """A line that was not accepted; mote only where the register knows it, and never any text of the line."""

    line: int
    reason: LineReason
    mote: str | None = None


@dataclass(frozen=True)
class ObjectCount:
    """How every line of an object is accounted for: lines_read = lines_parsed + lines_rejected.

    size and sha256 are of the bytes as delivered. dropped counts fields left out, by name.
    """

    name: str
    size: int
    sha256: str
    lines_parsed: int
    rejected: Mapping[str, int]
    reading_rejects: int
    dropped: Mapping[str, int]

    @property
    def lines_rejected(self) -> int:
        """Lines that were not accepted, for whatever reason."""
        return sum(self.rejected.values())

    @property
    def lines_read(self) -> int:
        """All lines of the object."""
        return self.lines_parsed + self.lines_rejected


@dataclass(frozen=True)
class ObjectRefused:
    """An object of which nothing was taken, with the reason and what to do; it stays in raw/."""

    name: str
    size: int
    sha256: str
    reason: str


class DroppedNames:
    """Counts of dropped fields by name: of names that a measure could have, the 100 first in the alphabet.

    All others are one: a hostile object could invent a name a line, and an honest one may use the address of
    somebody's phone as a name. Which names are kept does not depend on their order.
    """

    def __init__(self) -> None:
        self._counts: Counter[str] = Counter()
        self._others = 0

    def add(self, name: str, count: int = 1) -> None:
        """Counts a dropped field."""
        if not is_measure_name(name):
            self._others += count
            return
        self._counts[name] += count
        if len(self._counts) > NAMES_COUNTED:
            self._others += self._counts.pop(max(self._counts))

    def counts(self) -> dict[str, int]:
        """The counts so far."""
        others = {OTHER_FIELDS: self._others} if self._others else {}
        return dict(sorted(self._counts.items())) | others
