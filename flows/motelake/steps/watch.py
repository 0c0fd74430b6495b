"""Watching: what is wrong with the fleet and its delivery, told once when it begins and once when it ends.

What the watch remembers lies in the lake (watch/state.json), so that any host may look next. Manifests are
taken into its memory once; raw objects that are not staged yet are looked at besides, each time.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING, Any

from motelake.config import Config
from motelake.core.alarms import Alarm, Condition, judge
from motelake.core.arrivals import clocks_ahead, jumps, part_by_clock, stalled
from motelake.core.campaign import Campaign
from motelake.core.compaction import batches_of, files_now, taken_over
from motelake.core.instants import format_instant
from motelake.core.look import SKEW_S, Look
from motelake.core.manifests import Manifest
from motelake.core.memory import Hearing, Memory, remember
from motelake.core.sentences import Say
from motelake.core.silence import silent_groups, silent_motes, unexplained
from motelake.engine import open_engine
from motelake.formats.objects import parse_objects
from motelake.formats.plan import ObjectCount
from motelake.formats.staging import Staging
from motelake.formats.tables import HEARINGS
from motelake.lake.chain import Chain, read_chain, read_manifests
from motelake.lake.store import Lake
from motelake.steps.batch import raw_objects, reading_plan
from motelake.steps.report import Report
from motelake.steps.stage import accept, staging_inputs
from motelake.steps.watch_state import State, read_state, write_state
from motelake.steps.watch_waiting import short_of_room, waiting_for_somebody, with_batteries, with_held

if TYPE_CHECKING:
    import duckdb

# The first look begins so many manifests before the end of the chain.
FIRST_LOOK = 20
COLUMNS = "epoch(received_at)::double, seq, mote, gateway, object"


@dataclass(frozen=True)
class WatchReport(Report):
    """The alarms that stand or closed just now, and how the delivery stands."""

    looked_at: datetime
    heard_until: datetime | None
    alarms: tuple[Alarm, ...]

    @property
    def news(self) -> tuple[Alarm, ...]:
        """The alarms that opened or closed just now."""
        return tuple(alarm for alarm in self.alarms if alarm.state != "still")

    @property
    def needs_attention(self) -> bool:
        """True where an alarm stands."""
        return any(alarm.stands for alarm in self.alarms)

    def to_dict(self) -> dict[str, Any]:
        """The report for programs."""
        return {
            "looked_at": format_instant(self.looked_at),
            "heard_until": self.heard_until and format_instant(self.heard_until),
            "alarms": [alarm.to_dict() for alarm in self.alarms],
            "needs_attention": self.needs_attention,
        }


def watch(
    lake: Lake,
    campaign: Campaign,
    config: Config,
    say: Say,
    *,
    now: datetime | None = None,
    tell: Callable[[WatchReport], None] | None = None,
) -> WatchReport:
    """Looks once, and keeps what it saw in the lake.

    tell gets the report before it counts as told: where it raises, the next look tells again. now stands for
    the clock.
    """
    now = now or datetime.now(UTC)
    before = read_state(lake)
    chain = read_chain(lake)
    periods_s = campaign.periods_s()
    with (
        TemporaryDirectory(prefix="motelake-watch-", dir=config.work_folder) as work,
        open_engine(memory=config.memory, threads=config.threads, spill_folder=Path(work)) as engine,
    ):
        first = max(before.through, chain.number - FIRST_LOOK if before.through == 0 else 0)
        looked_at = read_manifests(lake, after=first)
        manifests, moved = batches_of(looked_at), taken_over(looked_at)
        memory, ahead = before.memory, list[Hearing]()
        for manifest in manifests:
            files = [str(lake.fetch(name, Path(work))) for name in files_now(manifest.staged, moved)]
            hearings, too_late = part_by_clock(_staged(engine, manifest, files, periods_s), campaign, now)
            memory = remember(memory, hearings, _lines(manifest), periods_s, now.timestamp())
            ahead += too_late
        still_raw, lines = _still_raw(lake, engine, campaign, chain)
        whole = memory
        if lines:
            hearings, too_late = part_by_clock(still_raw, campaign, now)
            whole = remember(memory, hearings, lines, periods_s, now.timestamp())
            ahead += too_late
    state = replace(before, memory=memory, through=max([first, *(manifest.number for manifest in looked_at)]))
    state = with_batteries(lake, with_held(lake, state, manifests), now)
    look = Look(campaign, whole, now, _counts_to(before.looks, whole, campaign, now))
    report = WatchReport(
        now,
        datetime.fromtimestamp(whole.latest_at, UTC) if whole.latest_at is not None else None,
        tuple(_alarms(look, state, clocks_ahead(ahead, now), short_of_room(config, now), now)),
    )
    for alarm in report.news:
        say(f"{alarm.state}: {alarm.sentence}.")
    if tell is not None:
        tell(report)
    looks = (*before.looks, (now, whole.latest_at)) if whole.latest_at is not None else before.looks
    recent = tuple(one for one in looks if now - one[0] <= timedelta(minutes=5))
    write_state(lake, replace(state, alarms=report.alarms, looks=recent))
    return report


def _alarms(
    look: Look, state: State, clocks: Sequence[Condition], room: Sequence[Condition], now: datetime
) -> list[Alarm]:
    """Groups first, gateways before zones: what a silent gateway explains is told once."""
    before = state.alarms
    silent = silent_groups(look)
    gateways = _judge(before, [one for one in silent if one.kind == "gateway"], now, ("gateway",))
    zones = unexplained([one for one in silent if one.kind != "gateway"], look)
    groups = gateways + _judge(before, zones, now, ("zone", "mains"))
    told = {alarm.key for alarm in groups if alarm.stands}
    # Where stamps cannot be believed, nobody knows that nothing was delivered.
    delivery = clocks or stalled(look)
    others = [*delivery, *silent_motes(look, told), *jumps(look)]
    rest = _judge(before, others, now, ("clock", "delivery", "mote", "rejects", "delay"))
    waiting = _judge(before, waiting_for_somebody(state, now), now, ("held", "battery"), calm_s=0)
    return groups + rest + waiting + _judge(before, room, now, ("room",))


def _judge(
    before: Sequence[Alarm],
    conditions: Sequence[Condition],
    now: datetime,
    kinds: tuple[str, ...],
    **calm: float,
) -> list[Alarm]:
    return judge([alarm for alarm in before if alarm.kind in kinds], conditions, now, **calm)


def _counts_to(
    looks: Sequence[tuple[datetime, float]], memory: Memory, campaign: Campaign, now: datetime
) -> float:
    """Up to when silence counts: what had been delivered by a look a minute ago, and never past the end."""
    settled = [latest_s for looked_at, latest_s in looks if (now - looked_at).total_seconds() >= SKEW_S - 5]
    latest_s = max(settled, default=memory.latest_at or campaign.starts_at.timestamp())
    return min(latest_s, campaign.ends_at.timestamp())


def _staged(
    engine: "duckdb.DuckDBPyConnection",
    manifest: Manifest,
    files: Sequence[str],
    periods_s: Mapping[str, float],
) -> list[Hearing]:
    if not files:
        return []
    rows = engine.execute(
        f"select {COLUMNS} from read_parquet(?) where object in (select unnest(?))",
        [files, [staged.name for staged in manifest.objects]],
    ).fetchall()
    return [Hearing(*row) for row in rows if row[2] in periods_s]


def _lines(manifest: Manifest) -> dict[str, tuple[int, int]]:
    return {staged.name: (staged.lines.read, staged.lines.rejected) for staged in manifest.objects}


def _still_raw(
    lake: Lake, engine: "duckdb.DuckDBPyConnection", campaign: Campaign, chain: Chain
) -> tuple[list[Hearing], dict[str, tuple[int, int]]]:
    """Hearings and line counts of the raw objects that no manifest names."""
    accepted, _ = accept(lake.list("raw"))
    waiting = [info for info in accepted if info.name not in chain.known]
    if not waiting:
        return [], {}
    # Staging tells of those that cannot be read.
    objects = raw_objects(lake, [info.name for info in waiting], {})
    with Staging(engine, reading_plan(staging_inputs(campaign))) as staging:
        accounts = parse_objects(objects, staging)
        rows = engine.execute(f"select {COLUMNS} from {HEARINGS}").fetchall()
    return (
        [Hearing(*row) for row in rows],
        {
            name: (account.lines_read, account.lines_rejected)
            for name, account in accounts.items()
            if isinstance(account, ObjectCount)
        },
    )
