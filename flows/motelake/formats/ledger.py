"""The account of one object while it is read: every line goes through it or is counted once."""

from collections import Counter
from collections.abc import Callable, Iterable
from typing import BinaryIO

from motelake.formats.delivered import Delivered
from motelake.formats.plan import DroppedNames, Hearing, LineReject, ObjectCount, ObjectRefused, ReadingPlan
from motelake.formats.tables import LINE_REJECTS, LINES, READING_REJECTS, Row


class Ledger:
    """What became of the lines of one object.

    number stands for the object in the tables. delivered is there once its bytes are being read. is_gone: it
    was taken away before it could be read to its end.
    """

    def __init__(self, name: str, number: int, plan: ReadingPlan, add: Callable[[str, Row], None]) -> None:
        self.name = name
        self.number = number
        self.plan = plan
        self.delivered: Delivered | None = None
        self.is_gone = False
        self.lines_parsed = 0
        self.rejected: Counter[str] = Counter()
        self.reading_rejects = 0
        self.dropped = DroppedNames()
        self._add = add

    def open(self, stream: BinaryIO, compression: str) -> Delivered:
        """The object's bytes, which are about to be read."""
        self.delivered = Delivered(stream, compression, self.plan.bytes_per_object)
        return self.delivered

    def take(self, outcome: Hearing | LineReject | None) -> None:
        """Stages what became of one line; None is no line."""
        if isinstance(outcome, LineReject):
            self.rejected[outcome.reason] += 1
            self._add(LINE_REJECTS, (self.name, outcome.line, str(outcome.reason), outcome.mote))
        elif outcome is not None:
            self._take_hearing(outcome)

    def take_all(self, outcomes: Iterable[Hearing | LineReject | None]) -> None:
        """Stages what became of several lines."""
        for outcome in outcomes:
            self.take(outcome)

    def _take_hearing(self, heard: Hearing) -> None:
        self.lines_parsed += 1
        readings = [heard.readings.get(measure) for measure in self.plan.measures]
        mote = self.plan.mote_numbers[heard.mote]
        row: Row = (self.number, heard.line, mote, heard.seq, heard.gateway, heard.received_at)
        self._add(LINES, (*row, heard.rssi_dbm, heard.battery_v, *readings, None, None))
        self.reading_rejects += len(heard.reading_rejects)
        for measure, reason in heard.reading_rejects:
            self._add(READING_REJECTS, (self.name, heard.line, heard.mote, measure, str(reason)))
        for name in heard.dropped:
            self.dropped.add(name)

    @property
    def is_kept(self) -> bool:
        """False where none of its rows may stay."""
        return self.delivered is not None and not self.delivered.is_over and not self.is_gone

    def account(self) -> ObjectCount | ObjectRefused | None:
        """The account as it stands; None for an object that was taken away."""
        if self.delivered is None or self.is_gone:
            return None
        size, sha256 = self.delivered.size, self.delivered.sha256
        if self.delivered.is_over:
            reason = (
                f"{self.name} was refused: unpacked it holds more than {self.plan.bytes_per_object:,} bytes. "
                "Deliver it in parts, or raise bytes_per_object in [limits] of campaign.toml."
            )
            return ObjectRefused(self.name, size, sha256, reason)
        return ObjectCount(
            name=self.name,
            size=size,
            sha256=sha256,
            lines_parsed=self.lines_parsed,
            rejected={str(reason): n for reason, n in sorted(self.rejected.items())},
            reading_rejects=self.reading_rejects,
            dropped=self.dropped.counts(),
        )
