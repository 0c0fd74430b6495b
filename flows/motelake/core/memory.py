"""What a watch remembers of a fleet: who was heard last when, how bursts are lost, and what came lately.

Made up of hearings in any number of portions, so that a look costs what is new. Times are seconds since 1970
by the collector's stamp.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass, field, replace
from itertools import groupby
from statistics import median
from typing import Any, NamedTuple

from motelake.core.losses import Losses

LATE_S = 60.0
LATELY_S = 1800.0
GAPS_KEPT = 100
# Clocks of motes may go slow: the start that a burst's number points to may creep by so much.
CREEP = 2e-4
RESTART_S = 30.0


class Hearing(NamedTuple):
    """One burst heard by one gateway."""

    at: float
    seq: int | None
    mote: str
    gateway: str | None
    object: str


class MoteMemory(NamedTuple):
    """The last hearing of a mote, and the start of its numbering as its quickest bursts show it."""

    at: float
    seq: int | None = None
    start: float | None = None


class Delivery(NamedTuple):
    """What one raw object held: when its last burst came, lines, bursts whose delay is known, late ones."""

    object: str
    at: float
    gateway: str | None
    read: int
    rejected: int
    timed: int
    late: int

    @property
    def source(self) -> str:
        """The gateway that most likely delivered it, else the folder it lies in."""
        return self.gateway or self.object.rpartition("/")[0]


@dataclass(frozen=True)
class Memory:
    """Everything remembered.

    before: lines read and rejected of each source up to half an hour ago; gaps: seconds between the ends of
    successive objects of one gateway.
    """

    began_at: float | None = None
    latest_at: float | None = None
    motes: Mapping[str, MoteMemory] = field(default_factory=dict)
    gateways: Mapping[str, float] = field(default_factory=dict)
    losses: Losses = field(default_factory=Losses)
    lately: tuple[Delivery, ...] = ()
    before: Mapping[str, tuple[int, int]] = field(default_factory=dict)
    gaps: tuple[float, ...] = ()

    @property
    def delivery_s(self) -> float:
        """Seconds from one object of a gateway to the next, usually; 0 while nobody knows."""
        return median(self.gaps) if self.gaps else 0.0

    def to_dict(self) -> dict[str, Any]:
        """The memory as plain values."""
        return asdict(self) | {"lately": [list(one) for one in self.lately]}

    @classmethod
    def from_dict(cls, record: Mapping[str, Any]) -> "Memory":
        """The inverse of to_dict."""
        return cls(
            **dict(record)
            | {
                "motes": {name: MoteMemory(*one) for name, one in record["motes"].items()},
                "losses": Losses(**record["losses"]),
                "lately": tuple(Delivery(*one) for one in record["lately"]),
                "before": {name: (lines, rejected) for name, (lines, rejected) in record["before"].items()},
                "gaps": tuple(record["gaps"]),
            }
        )


def remember(
    memory: Memory,
    hearings: Iterable[Hearing],
    lines: Mapping[str, tuple[int, int]],
    periods_s: Mapping[str, float],
    now_s: float,
) -> Memory:
    """The memory with what raw objects brought.

    lines: of each object, lines read and rejected; one without any hearing is taken to have come at now_s.
    periods_s: every mote's period.
    """
    motes, losses = dict(memory.motes), memory.losses
    counts: dict[str, list[int]] = {name: [0, 0] for name in lines}
    ends: dict[tuple[str | None, str], float] = {}
    in_order = sorted(hearings, key=lambda one: (one.at, one.seq or 0, one.mote))
    for one in in_order:
        before = motes.get(one.mote)
        motes[one.mote], missed, delay_s = _hear(before, one, periods_s[one.mote])
        if missed is not None:
            losses = losses.seen(missed)
        if delay_s is not None and one.object in counts:
            counts[one.object][0] += 1
            counts[one.object][1] += delay_s > LATE_S
        ends[one.gateway, one.object] = one.at
    main = {name: max(some, key=lambda one: one[:2])[1:] for name, some in _by_object(ends).items()}
    deliveries = [
        Delivery(name, *main.get(name, (now_s, None)), read, rejected, *counts[name])
        for name, (read, rejected) in sorted(lines.items())
    ]
    if memory.began_at is None and in_order:
        memory = replace(memory, began_at=in_order[0].at)
    return _settle(replace(memory, motes=motes, losses=losses), deliveries, ends)


def _by_object(
    ends: Mapping[tuple[str | None, str], float],
) -> dict[str, list[tuple[bool, float, str | None]]]:
    """Of each object the gateways in it with their last times; the one that its name tells comes last."""
    found: dict[str, list[tuple[bool, float, str | None]]] = {}
    for (gateway, name), at in ends.items():
        found.setdefault(name, []).append((gateway is not None and gateway in name, at, gateway))
    return found


def _hear(
    before: MoteMemory | None, one: Hearing, period_s: float
) -> tuple[MoteMemory, int | None, float | None]:
    """The mote's memory after a hearing, bursts missed before it and its delay, where they can be told."""
    if before is not None and one.at < before.at:
        return before, None, None
    if one.seq is None:
        return MoteMemory(one.at), None, None
    start = one.at - one.seq * period_s
    if before is None or before.seq is None or before.start is None:
        return MoteMemory(one.at, one.seq, start), None, None
    expected = before.start + CREEP * (one.at - before.at)
    delay_s = start - expected
    # Who restarted began to count after it was heard last; an old number that points further back is late.
    has_restarted = one.seq < before.seq and start > before.at - RESTART_S
    if has_restarted or delay_s < -RESTART_S:
        return MoteMemory(one.at, one.seq, start), None, None
    missed = one.seq - before.seq - 1 if one.seq > before.seq else None
    return MoteMemory(one.at, max(one.seq, before.seq), min(start, expected)), missed, max(0.0, delay_s)


def _settle(
    memory: Memory, deliveries: Sequence[Delivery], ends: Mapping[tuple[str | None, str], float]
) -> Memory:
    gateways, gaps = dict(memory.gateways), list(memory.gaps)
    own = sorted((one.gateway, one.at) for one in deliveries if one.gateway is not None)
    for gateway, some in groupby(own, key=lambda one: one[0]):
        last = memory.gateways.get(gateway)
        for _, at in some:
            if last is not None and at > last:
                gaps.append(at - last)
            last = max(at, last or at)
    for (heard_by, _), at in ends.items():
        if heard_by is not None:
            gateways[heard_by] = max(at, gateways.get(heard_by, at))
    times = [one.at for one in memory.motes.values()]
    latest_at = max([memory.latest_at or 0.0, *times]) if times else memory.latest_at
    lately = [*memory.lately, *deliveries]
    past = [one for one in lately if latest_at is not None and one.at < latest_at - LATELY_S]
    before = dict(memory.before)
    for one in past:
        lines, rejected = before.get(one.source, (0, 0))
        before[one.source] = (lines + one.read, rejected + one.rejected)
    return replace(
        memory,
        latest_at=latest_at,
        gateways=gateways,
        gaps=tuple(gaps[-GAPS_KEPT:]),
        lately=tuple(one for one in lately if latest_at is None or one.at >= latest_at - LATELY_S),
        before=before,
    )
