"""Where each mote was, from when to when, by the register alone."""

from collections import defaultdict
from dataclasses import dataclass
from datetime import datetime

from motelake.core.register import Mote, Placement, Register

_NOWHERE = ("removed", "found")


@dataclass(frozen=True, slots=True)
class MotePlace:
    """A mote's place from from_at until before to_at (UTC); None means since ever, or for ever.

    The zone is None where nobody knows it, and so is the level of a mote that was removed or found.
    """

    mote: str
    from_at: datetime | None
    to_at: datetime | None
    zone: str | None
    level: str | None


def resolve_places(register: Register) -> list[MotePlace]:
    """The places of every mote, in order of motes.csv and time, touching but never overlapping.

    motes.csv places a mote until its first row in placements.csv. Then the latest row that has begun wins,
    the later row of the file where two begin together; a planned row wins only until something was seen.
    Nothing is said outside installed_at..removed_at. A row that moves a mote within its zone begins a
    new place, since its readings do not compare across the move.
    """
    level_of_zone = {zone.zone: zone.level for zone in register.zones}
    rows_of_mote: dict[str, list[Placement]] = defaultdict(list)
    for placement in register.placements:
        rows_of_mote[placement.mote].append(placement)
    return [
        place for mote in register.motes for place in _places_of(mote, rows_of_mote[mote.mote], level_of_zone)
    ]


def _places_of(mote: Mote, placements: list[Placement], level_of_zone: dict[str, str]) -> list[MotePlace]:
    winners = _winners(placements)
    from_ats: list[datetime | None] = [None, *(row.from_at for row in winners)]
    to_ats: list[datetime | None] = [*(row.from_at for row in winners), None]
    places = []
    rows: list[Mote | Placement] = [mote, *winners]
    for row, from_at, to_at in zip(rows, from_ats, to_ats, strict=True):
        begins_at = _latest(from_at, mote.installed_at)
        ends_at = _earliest(to_at, mote.removed_at)
        if begins_at is not None and ends_at is not None and ends_at <= begins_at:
            continue
        is_nowhere = isinstance(row, Placement) and row.how in _NOWHERE
        zone = None if is_nowhere else row.zone
        level = None if is_nowhere else level_of_zone.get(zone or "", row.level or "") or None
        places.append(MotePlace(mote.mote, begins_at, ends_at, zone, level))
    return places


def _winners(rows: list[Placement]) -> list[Placement]:
    """The rows that hold for some time, in order of time."""
    seen_at = min((row.from_at for row in rows if row.how != "planned"), default=None)
    latest: dict[datetime, Placement] = {}
    for row in rows:
        if row.how != "planned" or seen_at is None or row.from_at < seen_at:
            latest[row.from_at] = row
    return [latest[from_at] for from_at in sorted(latest)]


def _latest(one: datetime | None, other: datetime | None) -> datetime | None:
    return max((at for at in (one, other) if at is not None), default=None)


def _earliest(one: datetime | None, other: datetime | None) -> datetime | None:
    return min((at for at in (one, other) if at is not None), default=None)
