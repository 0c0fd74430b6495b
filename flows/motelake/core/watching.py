"""What is wrong with a fleet now, as conditions: who is silent, what jumped, what waits for a person.

Silence is counted up to what had been delivered a minute ago, never up to the clock on the wall: who delivers
by the hour is not silent for an hour, and one gateway's object may come a little later than another's.
"""

from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import cached_property

from motelake.core.alarms import Condition
from motelake.core.campaign import Campaign
from motelake.core.memory import Delivery, Hearing, Memory
from motelake.core.places import resolve_places
from motelake.core.sentences import counted

GROUP_PERIODS = 2
MOTE_PERIODS = 10
SKEW_S = 60.0
# Clocks that differ by less do no harm to what is told here.
AHEAD_S = 300.0
# Of one kind of group in a day, by the losses that the fleet really has.
FALSE_ALARMS_PER_DAY = 0.1
DAY_S = 86400.0

LINES_AT_LEAST = 50
REJECTS_AT_LEAST = 20
REJECT_SHARE_AT_LEAST = 0.05
REJECT_JUMP = 3.0
USUAL_LINES = 1000
LATE_SHARE = 0.5
JUMP_S = 900.0


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
        return periods_of(self.campaign)

    @cached_property
    def expected(self) -> Mapping[str, float]:
        """Motes that should be speaking, with the second since which each is silent."""
        return _expected(self)

    @cached_property
    def groups(self) -> Mapping[tuple[str, str], Group]:
        """Every group by kind and name."""
        return {(group.kind, group.name): group for group in _groups(self)}


def periods_of(campaign: Campaign) -> dict[str, float]:
    """Every mote's period in seconds."""
    return {mote.mote: mote.burst_period_s or campaign.burst_period_s for mote in campaign.register.motes}


def part_by_clock(
    hearings: Iterable[Hearing], campaign: Campaign, now: datetime
) -> tuple[list[Hearing], list[Hearing]]:
    """Hearings that can have come by now, and those stamped so far ahead that a clock must be wrong.

    Before a campaign begins there is none to be judged: who looks then looks at a rehearsal.
    """
    if now < campaign.starts_at:
        return list(hearings), []
    latest_s = now.timestamp() + AHEAD_S
    credible: list[Hearing] = []
    ahead: list[Hearing] = []
    for one in hearings:
        (credible if one.at <= latest_s else ahead).append(one)
    return credible, ahead


def clocks_ahead(ahead: Iterable[Hearing], now: datetime) -> list[Condition]:
    """One condition for each gateway whose bursts are stamped later than now."""
    by_gateway: dict[str, list[float]] = defaultdict(list)
    for one in ahead:
        by_gateway[one.gateway or one.object].append(one.at)
    return [
        Condition(
            "clock", name, now,
            f"{counted(len(stamps), 'burst')} of {name} came with a stamp of the "
            f"future, up to {_at(max(stamps)):%Y-%m-%d %H:%M:%S} UTC, and count for nothing here: the clock "
            "of what stamps them or of this machine is wrong",
        )
        for name, stamps in sorted(by_gateway.items())
    ]  # fmt: skip


def stalled(look: Look) -> list[Condition]:
    """One condition where nothing at all arrives while the campaign lasts."""
    campaign, memory = look.campaign, look.memory
    latest_s = memory.latest_at if memory.latest_at is not None else campaign.starts_at.timestamp()
    patience_s = _patience_s(campaign.burst_period_s)
    allowed_s = max(memory.delivery_s + patience_s, 1.5 * memory.delivery_s)
    if not campaign.starts_at <= look.now < campaign.ends_at or look.now.timestamp() - latest_s <= allowed_s:
        return []
    since = _at(latest_s)
    at = f"{since:%Y-%m-%d %H:%M:%S} UTC"
    if memory.latest_at is None:
        sentence = f"Nothing was delivered yet; the campaign began at {at}"
    else:
        sentence = f"Nothing is delivered; the last burst came at {at}"
    return [Condition("delivery", "stalled", since, sentence)]


def silent_groups(look: Look) -> list[Condition]:
    """Gateways, zones and mains that have been silent for two periods, or longer where chance does that."""
    return [found for group in look.groups.values() if (found := _silent(look, group)) is not None]


def silent_motes(look: Look, told: Collection[tuple[str, str]]) -> list[Condition]:
    """Motes silent for ten periods, or longer where chance does that, and not within a group that is told.

    told: the keys of group alarms that stand.
    """
    explained = {mote for key, group in look.groups.items() if key in told for mote in group.motes}
    fleet = len(look.expected)
    conditions = []
    for mote, last_s in look.expected.items():
        period_s = look.periods_s[mote]
        chance = look.memory.losses.periods_by_chance(1, fleet, DAY_S / period_s, FALSE_ALARMS_PER_DAY)
        if mote in explained or look.counts_to_s - last_s <= max(MOTE_PERIODS, chance) * period_s:
            continue
        is_new = mote not in look.memory.motes
        words = "has not been heard yet" if is_new else f"is silent since {_at(last_s):%Y-%m-%d %H:%M:%S} UTC"
        conditions.append(Condition("mote", mote, _at(last_s), f"Mote {mote} {words}"))
    return conditions


def unexplained(conditions: Iterable[Condition], look: Look) -> list[Condition]:
    """Those about zones and mains whose silence is not just that of the gateways of their motes.

    A gateway explains the silence of its motes where nothing was heard through it either since they fell
    silent, even before its own silence is long enough to be told.
    """
    return [one for one in conditions if not _is_explained(one, look)]


def _is_explained(condition: Condition, look: Look) -> bool:
    motes = set(look.groups[condition.key].motes)
    since_s = condition.since_at.timestamp()
    quiet = [
        group
        for group in look.groups.values()
        if group.kind == "gateway"
        and look.memory.gateways.get(group.name, 0.0) <= since_s + max(look.periods_s[mote] for mote in motes)
    ]
    return motes <= {mote for group in quiet for mote in group.motes}


def jumps(look: Look) -> list[Condition]:
    """Gateways through which many more lines than usual are refused, or most bursts come late."""
    by_gateway: dict[str, list[Delivery]] = defaultdict(list)
    for one in look.memory.lately:
        by_gateway[one.source].append(one)
    return [found for name, some in sorted(by_gateway.items()) for found in _jumps(look, name, some)]


def _jumps(look: Look, name: str, deliveries: Sequence[Delivery]) -> Iterator[Condition]:
    recent = [one for one in deliveries if one.at > (look.memory.latest_at or 0) - JUMP_S]
    read, rejected = sum(one.read for one in recent), sum(one.rejected for one in recent)
    lines_before, rejected_before = look.memory.before.get(name, (0, 0))
    if lines_before >= USUAL_LINES:
        usual = f"usually {rejected_before / lines_before:.1%}"
        limit = max(REJECT_SHARE_AT_LEAST, REJECT_JUMP * rejected_before / lines_before)
    else:
        # Nobody knows yet what is usual: what the gate would hold is too much.
        usual = "nobody knows yet what is usual"
        limit = look.campaign.limits.reject_share
    if read >= LINES_AT_LEAST and rejected >= REJECTS_AT_LEAST and rejected > limit * read:
        share = f"{rejected / read:.0%}, {usual}"
        sentence = f"{rejected:,} of {read:,} lines of {name} are refused ({share})"
        yield Condition("rejects", name, _at(min(one.at for one in recent)), sentence)
    timed, late = sum(one.timed for one in recent), sum(one.late for one in recent)
    if timed >= LINES_AT_LEAST and late > LATE_SHARE * timed:
        since = _at(min(one.at for one in recent))
        yield Condition(
            "delay", name, since, f"{late:,} of {timed:,} bursts through {name} come more than a minute late"
        )


def _silent(look: Look, group: Group) -> Condition | None:
    memory = look.memory
    last = [memory.motes[mote].at for mote in group.motes if mote in memory.motes]
    is_gateway = group.kind == "gateway"
    heard_s = memory.gateways.get(group.name) if is_gateway else max(last, default=None)
    if heard_s is None:
        # Nobody knows yet whether it ever speaks; its motes are told one by one.
        return None
    period_s = min(look.periods_s[mote] for mote in group.motes)
    # Those that were silent before say nothing of the others' silence.
    active = sum(at > heard_s - MOTE_PERIODS * period_s for at in last)
    alike = sum(one.kind == group.kind for one in look.groups.values())
    chance = memory.losses.periods_by_chance(max(1, active), alike, DAY_S / period_s, FALSE_ALARMS_PER_DAY)
    if look.counts_to_s - heard_s <= max(GROUP_PERIODS, chance) * period_s:
        return None
    since = _at(heard_s)
    motes = counted(active, "mote")
    sentence = f"{group.words} silent since {since:%Y-%m-%d %H:%M:%S} UTC ({motes})"
    return Condition(group.kind, group.name, since, sentence)


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
    at = _at(look.counts_to_s)
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


def _patience_s(period_s: float) -> float:
    return GROUP_PERIODS * period_s + SKEW_S


def _at(seconds: float) -> datetime:
    return datetime.fromtimestamp(seconds, UTC)
