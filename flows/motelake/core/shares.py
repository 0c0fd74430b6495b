"""Shares of a campaign: what can be derived apart from the rest, and comes out the same.

A mote's bursts, flags and minutes follow from its own hearings alone, but for one thing: whether it is the
odd one out, which the motes that stand in its zone tell. So a share is some whole zones with every mote that
ever stood in one of them. A mote that was moved is in several shares; each answers for the time it stood in
its own zones, and sees it in no zone for the rest. Within ten minutes of a move no flag depends on a zone, so
neither does the minute that holds it.
"""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from itertools import groupby

from motelake.core.campaign import Campaign
from motelake.core.hashes import content_hash
from motelake.core.places import MotePlace, resolve_places
from motelake.core.register import Mote, Placement, Register


@dataclass(frozen=True, slots=True)
class Tenure:
    """When a share answers for a mote: [from_at, to_at) of the mote's own time, None where it has no end."""

    mote: str
    from_at: datetime | None
    to_at: datetime | None


@dataclass(frozen=True)
class Share:
    """Some zones of a campaign with their motes, as a campaign of its own.

    home holds the motes whose lines are counted here; no mote is at home in two shares.
    """

    name: str
    campaign: Campaign
    tenures: tuple[Tenure, ...]
    home: frozenset[str]

    @property
    def motes(self) -> list[str]:
        """All motes, those on a visit included, sorted."""
        return sorted(mote.mote for mote in self.campaign.register.motes)


def cut_shares(campaign: Campaign, motes_per_share: int) -> tuple[Share, ...]:
    """The shares of a campaign, of about so many motes each; a zone is never cut.

    Which zones go together depends on motes.csv alone, so that a mote that moves changes two shares and not
    all of them.
    """
    register = campaign.register
    home_of_zone, home_of_lone = _deal(register, motes_per_share)
    places_of: dict[str, list[MotePlace]] = defaultdict(list)
    for place in resolve_places(register):
        places_of[place.mote].append(place)
    tenures: dict[int, list[Tenure]] = defaultdict(list)
    home: dict[int, set[str]] = defaultdict(set)
    for mote in register.motes:
        places = [place for place in places_of[mote.mote] if place.zone is not None]
        at_home = home_of_zone[places[0].zone or ""] if places else home_of_lone[mote.mote]
        home[at_home].add(mote.mote)
        for share, tenure in _tenures(mote.mote, places, at_home, home_of_zone):
            tenures[share].append(tenure)
    zones: dict[int, set[str]] = defaultdict(set)
    for zone, share in home_of_zone.items():
        zones[share].add(zone)
    return tuple(
        _share(campaign, zones[number], tenures[number], frozenset(home[number]))
        for number in sorted(tenures)
    )


def preferred_host(share: str, hosts: Iterable[str]) -> str:
    """Where a share is worked on best, since it was the last time: the same host as long as that is there.

    Rendezvous hashing (Thaler and Ravishankar, 1998, from memory): a host that comes or goes moves its own
    shares only.
    """
    return max(hosts, key=lambda host: content_hash([share, host]))


def _deal(register: Register, motes_per_share: int) -> tuple[dict[str, int], dict[str, int]]:
    """The share of each zone, and of each mote that motes.csv puts in none: the largest to the emptiest."""
    in_zone: dict[str, int] = {zone.zone: 0 for zone in register.zones}
    lone = []
    for mote in register.motes:
        if mote.zone is None:
            lone.append(mote.mote)
        else:
            in_zone[mote.zone] += 1
    loads = [0] * max(1, -(-len(register.motes) // motes_per_share))
    of_zone = {}
    for zone in sorted(in_zone, key=lambda zone: (-in_zone[zone], zone)):
        of_zone[zone] = loads.index(min(loads))
        loads[of_zone[zone]] += in_zone[zone]
    of_lone = {}
    for name in sorted(lone):
        of_lone[name] = loads.index(min(loads))
        loads[of_lone[name]] += 1
    return of_zone, of_lone


def _tenures(
    mote: str, places: Sequence[MotePlace], at_home: int, home_of_zone: dict[str, int]
) -> Iterable[tuple[int, Tenure]]:
    """Who answers for a mote when: the share of the zone it stands in, its home for the rest."""
    steps: list[tuple[datetime | None, int]] = [(None, at_home)]
    for place in places:
        steps += [(place.from_at, home_of_zone[place.zone or ""]), (place.to_at, at_home)]
    # Where one place ends and the next begins, the later word holds; "for ever" ends nothing.
    begins: dict[datetime | None, int] = {}
    for index, (at, share) in enumerate(steps):
        if at is None and index > 0 and index % 2 == 0:
            continue
        begins[at] = share
    runs = [(share, next(run)[0]) for share, run in groupby(begins.items(), key=lambda step: step[1])]
    ends = [from_at for _, from_at in runs[1:]] + [None]
    return [(share, Tenure(mote, from_at, to_at)) for (share, from_at), to_at in zip(runs, ends, strict=True)]


def _share(campaign: Campaign, zones: set[str], tenures: Sequence[Tenure], home: frozenset[str]) -> Share:
    register = campaign.register
    motes = {tenure.mote for tenure in tenures}
    part = Register(
        motes=tuple(_mote(mote, zones) for mote in register.motes if mote.mote in motes),
        gateways=(),
        zones=tuple(
            replace(zone, title=None, kind=None, area_m2=None, x_m=None, y_m=None)
            for zone in register.zones
            if zone.zone in zones
        ),
        measures=register.measures,
        placements=tuple(_placement(row, zones) for row in register.placements if row.mote in motes),
    )
    return Share(
        name=content_hash([sorted(zones), sorted(home) if not zones else []])[:12],
        campaign=replace(
            campaign,
            title="",
            baseline=None,
            open_hours=None,
            register=part,
            programme=(),
            streams=(),
            context=(),
        ),
        tenures=tuple(tenures),
        home=home,
    )


def _mote(mote: Mote, zones: set[str]) -> Mote:
    # As far as anything is derived from it, so that a note in the register derives nothing anew.
    zone = mote.zone if mote.zone in zones else None
    return replace(mote, zone=zone, network=None, x_m=None, y_m=None, power=None, note=None)


def _placement(row: Placement, zones: set[str]) -> Placement:
    return replace(row, zone=row.zone if row.zone in zones else None, x_m=None, y_m=None, note=None)
