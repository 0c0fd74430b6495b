"""What an operator is told: alarms that open once, stay, and close once what they are about is over."""

from collections.abc import Iterable, Mapping
from dataclasses import asdict, dataclass, replace
from datetime import datetime
from typing import Any, Literal

from motelake.core.instants import format_instant, parse_instant

CALM_S = 300.0
"""An alarm closes when its condition has been gone for so long, so that what comes and goes is one alarm."""

Key = tuple[str, str]


@dataclass(frozen=True)
class Condition:
    """Something that is wrong now: what kind, with whom, since when, and a sentence for people."""

    kind: str
    subject: str
    since_at: datetime
    sentence: str

    @property
    def key(self) -> Key:
        """What makes it the same trouble later on."""
        return self.kind, self.subject


@dataclass(frozen=True)
class Alarm:
    """A condition as it is told: open when it is new, then still there, then closed, and then no more.

    gone_at: since when the condition no longer holds, None while it does.
    """

    kind: str
    subject: str
    state: Literal["open", "still", "closed"]
    since_at: datetime
    opened_at: datetime
    gone_at: datetime | None
    sentence: str

    @property
    def key(self) -> Key:
        """What makes it the same trouble later on."""
        return self.kind, self.subject

    @property
    def stands(self) -> bool:
        """True until it is closed."""
        return self.state != "closed"

    def to_dict(self) -> dict[str, Any]:
        """The alarm for programs, times as RFC 3339."""
        times = {
            name: at and format_instant(at)
            for name, at in (
                ("since_at", self.since_at),
                ("opened_at", self.opened_at),
                ("gone_at", self.gone_at),
            )
        }
        return asdict(self) | times

    @classmethod
    def from_dict(cls, record: Mapping[str, Any]) -> "Alarm":
        """The inverse of to_dict."""
        times = {
            name: record[name] and parse_instant(record[name])
            for name in ("since_at", "opened_at", "gone_at")
        }
        return cls(**dict(record) | times)


def judge(
    before: Iterable[Alarm], conditions: Iterable[Condition], now: datetime, calm_s: float = CALM_S
) -> list[Alarm]:
    """The alarms of now, sorted, given those of the look before and what is wrong now.

    One that was told as closed is not told again; a condition that comes back before its alarm closed
    opens no other.
    """
    standing = {alarm.key: alarm for alarm in before if alarm.stands}
    wrong = {condition.key: condition for condition in conditions}
    alarms = [_go_on(alarm, wrong.get(key), now, calm_s) for key, alarm in standing.items()]
    alarms += [
        Alarm(one.kind, one.subject, "open", one.since_at, now, None, one.sentence)
        for key, one in wrong.items()
        if key not in standing
    ]
    return sorted(alarms, key=lambda alarm: alarm.key)


def _go_on(alarm: Alarm, condition: Condition | None, now: datetime, calm_s: float) -> Alarm:
    if condition is not None:
        return replace(alarm, state="still", gone_at=None, sentence=condition.sentence)
    gone_at = alarm.gone_at or now
    is_over = (now - gone_at).total_seconds() >= calm_s
    return replace(alarm, state="closed" if is_over else "still", gone_at=gone_at)
