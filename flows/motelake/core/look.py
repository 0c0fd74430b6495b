"""What a watch looks at: who should be speaking just now, who can fall silent together, up to when it counts.

Silence is counted up to what had been delivered a minute ago, never up to the clock on the wall: who delivers
by the hour is not silent for an hour, and one gateway's object may come a little later than another's.
"""

from collections import defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import cached_property

from motelake.core.campaign import Campaign
from motelake.core.memory import Memory
from motelake.core.places import resolve_places

GROUP_PERIODS = 2
SKEW_S = 60.0


@dataclass(frozen=True)
class Group:
    """Motes that can fall silent together: those of a gateway, of a zone, or of a zone's mains."""

    kind: str
    name: str
    words: str
    motes: tuple[str, ...]


@dataclass(frozen=True)
class Look:
    """What a watch sees: its memory, the clock, and up to when silence counts."""

    campaign: Campaign
    memory: Memory
    now: datetime
    counts_to_s: float

    @cached_property
    def periods_s(self) -> Mapping[str, float]:
        """Every mote's period."""
        return self.campaign.periods_s()

    @cached_property
    def expected(self) -> Mapping[str, float]:
        """Motes that should be speaking, with the second since which each is silent."""
        return _expected(self)

    @cached_property
    def groups(self) -> Mapping[tuple[str, str], Group]:
        """Every group by kind and name."""
        return {(group.kind, group.name): group for group in _groups(self)}


def _groups(look: Look) -> Iterator[Group]:
    waits, register = look.expected, look.campaign.register
    network_of = {mote.mote: mote.network for mote in register.motes}
    for gateway in register.gateways:
        motes = tuple(mote for mote in waits if network_of[mote] == gateway.network)
        if motes:
            yield Group("gateway", gateway.gateway, f"Gateway {gateway.gateway} is", motes)
    mains = {mote.mote for mote in register.motes if mote.power == "mains"}
    of_zone: dict[str, list[str]] = defaultdict(list)
    for mote, zone in _zones(look).items():
        if mote in waits and zone is not None:
            of_zone[zone].append(mote)
    for zone, zone_motes in sorted(of_zone.items()):
        lit = tuple(mote for mote in zone_motes if mote in mains)
        if len(zone_motes) > 1:
            yield Group("zone", zone, f"Zone {zone} is", tuple(zone_motes))
        if 1 < len(lit) < len(zone_motes):
            yield Group("mains", zone, f"The motes on mains in zone {zone} are", lit)


def _zones(look: Look) -> dict[str, str | None]:
    """The zone of each mote that is in place at the end of what counts; others are left out."""
    at = instant_at(look.counts_to_s)
    return {
        place.mote: place.zone
        for place in resolve_places(look.campaign.register)
        if (place.from_at is None or place.from_at <= at)
        and (place.to_at is None or at < place.to_at)
        # A mote that was removed or found has neither; one whose zone nobody knows keeps its level.
        and (place.zone is not None or place.level is not None)
    }


def _expected(look: Look) -> dict[str, float]:
    """Motes that should be speaking, with the second since which each is silent."""
    campaign, memory = look.campaign, look.memory
    zones = _zones(look)
    found = {}
    for mote in campaign.register.motes:
        if mote.mote not in zones:
            continue
        began_s = max(
            campaign.starts_at.timestamp(),
            mote.installed_at.timestamp() if mote.installed_at else 0.0,
            memory.began_at or 0.0,
        )
        heard = memory.motes.get(mote.mote)
        found[mote.mote] = max(began_s, heard.at) if heard else began_s
    return found


def instant_at(seconds: float) -> datetime:
    """The instant so many seconds after 1970 began."""
    return datetime.fromtimestamp(seconds, UTC)


def told_at(seconds: float) -> str:
    """The same for people."""
    return f"{instant_at(seconds):%Y-%m-%d %H:%M:%S} UTC"
