"""The checks that every line passes, whatever its format, before it is a hearing."""

import math
from collections.abc import Iterable, Mapping
from datetime import datetime

from motelake.core.instants import parse_instant
from motelake.core.names import is_name
from motelake.core.reasons import LineReason, ReadingReason
from motelake.formats.plan import Hearing, ReadingPlan

FIELDS = ("gateway", "mote", "seq", "received_at", "rssi_dbm", "battery_v", "readings")
"""What a burst may say of itself; everything else is dropped and counted."""

SEQ_END = 2**53
"""Sequence numbers stay below it: the integers that every reader of JSON keeps exact (RFC 7493, 2.2)."""

Readings = Iterable[tuple[str, object]]


class LineRejectedError(Exception):
    """A line cannot be accepted; mote is given only where the register knows it."""

    def __init__(self, reason: LineReason, mote: str | None = None) -> None:
        self.reason, self.mote = reason, mote


def accept(
    line: int,
    fields: Mapping[str, object],
    readings: Readings | None,
    plan: ReadingPlan,
    unknown: Iterable[str] = (),
) -> Hearing:
    """The hearing that a line tells, or LineRejectedError for the first check that fails.

    Absent and None are the same. Numbers are floats; a datetime is a time already read. A reading that is no
    finite number is rejected alone, and so is one given as a ReadingReason in place of a value. unknown names
    what the caller left out.
    """
    mote = _read_mote(fields.get("mote"), plan)
    received_at = _read_received_at(fields.get("received_at"), mote, plan)
    seq = _read_seq(fields.get("seq"), mote)
    gateway = fields.get("gateway")
    if gateway is not None and not (isinstance(gateway, str) and is_name(gateway)):
        raise LineRejectedError(LineReason.BAD_GATEWAY_NAME, mote)
    if readings is None:
        raise LineRejectedError(LineReason.NO_READINGS, mote)
    dropped = [*unknown, *(name for name in fields if name not in FIELDS)]
    supply = {name: fields.get(name) for name in ("rssi_dbm", "battery_v")}
    dropped += [name for name, value in supply.items() if value is not None and _finite(value) is None]
    accepted: dict[str, float] = {}
    rejects: list[tuple[str, ReadingReason]] = []
    for measure, value in readings:
        number = _finite(value)
        if measure not in plan.measures:
            dropped.append(measure)
        elif number is not None:
            accepted[measure] = number
        elif isinstance(value, ReadingReason):
            rejects.append((measure, value))
        else:
            is_number = isinstance(value, float)
            rejects.append((measure, ReadingReason.NOT_FINITE if is_number else ReadingReason.NOT_A_NUMBER))
    return Hearing(
        line=line,
        mote=mote,
        received_at=received_at,
        seq=seq,
        gateway=gateway,
        rssi_dbm=_finite(supply["rssi_dbm"]),
        battery_v=_finite(supply["battery_v"]),
        readings=accepted,
        reading_rejects=tuple(rejects),
        dropped=tuple(dropped),
    )


def _read_mote(mote: object, plan: ReadingPlan) -> str:
    if mote is None:
        raise LineRejectedError(LineReason.NO_MOTE)
    if not isinstance(mote, str) or not is_name(mote):
        raise LineRejectedError(LineReason.BAD_MOTE_NAME)
    if mote not in plan.motes:
        raise LineRejectedError(LineReason.UNKNOWN_MOTE)
    return mote


def _read_received_at(told: object, mote: str, plan: ReadingPlan) -> datetime:
    if told is None:
        raise LineRejectedError(LineReason.NO_RECEIVED_AT, mote)
    try:
        received_at = told if isinstance(told, datetime) else parse_instant(str(told))
    except ValueError:
        raise LineRejectedError(LineReason.BAD_RECEIVED_AT, mote) from None
    if not plan.starts_at <= received_at < plan.accepts_until:
        raise LineRejectedError(LineReason.OUTSIDE_CAMPAIGN, mote)
    return received_at


def _read_seq(told: object, mote: str) -> int | None:
    """JSON knows one kind of number, so 4711.0 is 4711."""
    if told is None:
        return None
    if not isinstance(told, float) or not 0 <= told < SEQ_END or told != math.floor(told):
        raise LineRejectedError(LineReason.BAD_SEQ, mote)
    return int(told)


def _finite(value: object) -> float | None:
    """The number, if it is one and finite; minus zero becomes zero, so that equal values have equal bits."""
    return value + 0.0 if isinstance(value, float) and math.isfinite(value) else None
