"""What is wrong with the delivery, as conditions: clocks ahead, nothing that comes, more refused or late."""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from datetime import datetime

from motelake.core.alarms import Condition
from motelake.core.campaign import Campaign
from motelake.core.look import GROUP_PERIODS, SKEW_S, Look, instant_at, told_at
from motelake.core.memory import Delivery, Hearing
from motelake.core.sentences import counted

# Clocks that differ by less do no harm to what is told here.
AHEAD_S = 300.0
LINES_AT_LEAST = 50
REJECTS_AT_LEAST = 20
REJECT_SHARE_AT_LEAST = 0.05
REJECT_JUMP = 3.0
USUAL_LINES = 1000
LATE_SHARE = 0.5
JUMP_S = 900.0


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
            f"future, up to {told_at(max(stamps))}, and count for nothing here: the clock "
            "of what stamps them or of this machine is wrong",
        )
        for name, stamps in sorted(by_gateway.items())
    ]  # fmt: skip


def stalled(look: Look) -> list[Condition]:
    """One condition where nothing at all arrives while the campaign lasts."""
    campaign, memory = look.campaign, look.memory
    latest_s = memory.latest_at if memory.latest_at is not None else campaign.starts_at.timestamp()
    patience_s = GROUP_PERIODS * campaign.burst_period_s + SKEW_S
    allowed_s = max(memory.delivery_s + patience_s, 1.5 * memory.delivery_s)
    if not campaign.starts_at <= look.now < campaign.ends_at or look.now.timestamp() - latest_s <= allowed_s:
        return []
    since, at = instant_at(latest_s), told_at(latest_s)
    if memory.latest_at is None:
        sentence = f"Nothing was delivered yet; the campaign began at {at}"
    else:
        sentence = f"Nothing is delivered; the last burst came at {at}"
    return [Condition("delivery", "stalled", since, sentence)]


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
        yield Condition("rejects", name, instant_at(min(one.at for one in recent)), sentence)
    timed, late = sum(one.timed for one in recent), sum(one.late for one in recent)
    if timed >= LINES_AT_LEAST and late > LATE_SHARE * timed:
        since = instant_at(min(one.at for one in recent))
        yield Condition(
            "delay", name, since, f"{late:,} of {timed:,} bursts through {name} come more than a minute late"
        )
