"""Who is silent, as conditions: gateways, zones and mains, and motes one by one."""

from collections.abc import Collection, Iterable

from motelake.core.alarms import Condition
from motelake.core.look import GROUP_PERIODS, Group, Look, instant_at, told_at
from motelake.core.sentences import counted

MOTE_PERIODS = 10
# Of one kind of group in a day, by the losses that the fleet really has.
FALSE_ALARMS_PER_DAY = 0.1
DAY_S = 86400.0


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
        words = "has not been heard yet" if is_new else f"is silent since {told_at(last_s)}"
        conditions.append(Condition("mote", mote, instant_at(last_s), f"Mote {mote} {words}"))
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
    motes = counted(active, "mote")
    sentence = f"{group.words} silent since {told_at(heard_s)} ({motes})"
    return Condition(group.kind, group.name, instant_at(heard_s), sentence)
