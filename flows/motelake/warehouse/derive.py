"""What follows from the hearings: bursts, readings with flags, minutes. Made again only where new bursts reach.

The statements under sql/derive/ say what each of these is; here is when they run and on what: bursts by groups of
motes (each mote stands alone), readings and minutes by measure and UTC day with a margin around.
"""

from collections.abc import Callable, Collection, Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

import duckdb

from motelake.core.campaign import Campaign
from motelake.core.register import Measure
from motelake.warehouse.hearings import reading_columns
from motelake.warehouse.statements import execute, quoted

# Bounds the memory of one group of motes: windows over this many hearings stay well under a gigabyte.
HEARINGS_AT_ONCE = 1_500_000
_BURST_STEPS = (
    "01_hearing_in_hand",
    "02_start",
    "03_placed",
    "04_stray",
    "05_stray_boot",
    "06_timed",
    "07_unnumbered",
    "08_heard",
    "09_shared",
    "10_burst_in_hand",
    "11_gone",
    "12_changed",
)
_DAY = timedelta(days=1)
_EVER = timedelta(days=36500)


@dataclass(frozen=True)
class _Span:
    from_at: datetime
    to_at: datetime


def derive(
    engine: duckdb.DuckDBPyConnection,
    campaign: Campaign,
    motes: Collection[str],
    *,
    is_afresh: bool,
    say: Callable[[str], None],
) -> None:
    """Brings bursts, readings, minutes and references of these motes up to their hearings.

    is_afresh makes everything of these motes again, as after a change of the register. Runs inside the
    caller's transaction.
    """
    execute(engine, "derive/00_words")
    groups = _group_motes(engine, campaign, motes)
    columns = reading_columns(engine, "work.hearing")
    _start_change(engine, columns)
    for group in range(groups):
        if groups > 1:
            say(f"bursts: group {group + 1} of {groups}")
        _derive_bursts(engine, group, is_afresh)
    execute(engine, "derive/13_reach")
    span = _reach(engine)
    if span is None:
        return
    for measure in campaign.register.measures:
        say(f"readings and minutes: {measure.measure}")
        _derive_readings(engine, campaign, measure, span)
        _derive_minutes(engine, campaign, measure, span)
    execute(engine, "derive/50_unreference")
    execute(engine, "derive/51_mote_reference")
    margin = max((_minute_margin(campaign, measure) for measure in campaign.register.measures), default=_DAY)
    execute(engine, "derive/60_dirty_hour", {"margin": margin + timedelta(minutes=1)})


def _group_motes(engine: duckdb.DuckDBPyConnection, campaign: Campaign, motes: Collection[str]) -> int:
    """Writes period and group of every mote; returns the number of groups. Motes not in hand have no group."""
    row = engine.execute(
        "select count(*) from work.hearing where mote in (select unnest($motes))", {"motes": list(motes)}
    ).fetchone()
    groups = -(-(row[0] if row else 0) // HEARINGS_AT_ONCE) or 1
    in_hand = {mote: position % groups for position, mote in enumerate(sorted(motes))}
    rows = []
    for mote in campaign.register.motes:
        period_us = round((mote.burst_period_s or campaign.burst_period_s) * 1e6)
        rows.append(
            (mote.mote, in_hand.get(mote.mote), period_us, round(period_us * campaign.drift_ppm / 1000))
        )
    engine.execute("delete from work.mote_period")
    if rows:
        engine.execute(
            "insert into work.mote_period select unnest($motes), unnest($groups), unnest($periods), unnest($drifts)",
            dict(
                zip(("motes", "groups", "periods", "drifts"), map(list, zip(*rows, strict=True)), strict=True)
            ),
        )
    return groups


def _start_change(engine: duckdb.DuckDBPyConnection, columns: Collection[str]) -> None:
    readings = "".join(f", null::double as {quoted(column)}" for column in columns)
    engine.execute(f"create or replace temp table changed as select *{readings} from burst limit 0")
    engine.execute("create or replace temp table gone as select burst, mote, sampled_at from burst limit 0")


def _derive_bursts(engine: duckdb.DuckDBPyConnection, group: int, is_afresh: bool) -> None:
    values = {"bucket": group, "is_afresh": is_afresh}
    for step in _BURST_STEPS:
        execute(engine, f"derive/{step}", values)
    engine.execute(
        "delete from work.duplicate where mote in (select mote from work.mote_period where bucket = $bucket)",
        {"bucket": group},
    )
    engine.execute(
        "insert into work.duplicate select object, line, hearing.mote from shared "
        "join work.hearing on hearing.rowid = shared.hearing where not shared.is_new"
    )
    engine.execute("delete from burst where burst in (select burst from gone_in_hand)")
    engine.execute(
        "insert into burst by name select columns(lambda name: not starts_with(name, 'reading_')) from changed_in_hand"
    )
    engine.execute("insert into changed by name select * from changed_in_hand")
    engine.execute("insert into gone by name select * from gone_in_hand")


def _reach(engine: duckdb.DuckDBPyConnection) -> _Span | None:
    row = engine.execute("select min(from_at), max(to_at) from reach").fetchone()
    if row is None or row[0] is None:
        return None
    return _Span(row[0].astimezone(UTC), row[1].astimezone(UTC))


def _longest_period(campaign: Campaign) -> timedelta:
    periods = [mote.burst_period_s or campaign.burst_period_s for mote in campaign.register.motes]
    return timedelta(seconds=max(periods, default=campaign.burst_period_s))


def _margin(campaign: Campaign, measure: Measure) -> timedelta:
    """How far a burst reaches beyond itself: neighbours for spikes and steps, runs for flat lines."""
    return 2 * _longest_period(campaign) + timedelta(minutes=measure.flat_after_min or 0)


def _minute_margin(campaign: Campaign, measure: Measure) -> timedelta:
    # What a running counter grew by is shared out over the time since the burst before, up to a day.
    return _DAY if measure.kind == "total" else _margin(campaign, measure) + _longest_period(campaign)


def _slices(span: _Span) -> Iterator[_Span]:
    """The span, cut at UTC midnights."""
    from_at = span.from_at
    while from_at < span.to_at:
        midnight = datetime(from_at.year, from_at.month, from_at.day, tzinfo=UTC) + _DAY
        yield _Span(from_at, min(midnight, span.to_at))
        from_at = midnight


def _derive_readings(
    engine: duckdb.DuckDBPyConnection, campaign: Campaign, measure: Measure, span: _Span
) -> None:
    column = quoted(f"reading_{measure.measure}")
    engine.execute(
        "create or replace temp view measured as "
        f"select burst, mote, boot, seq, sampled_at, {column} as value from changed where {column} is not null"
    )
    margin = _margin(campaign, measure)
    values = {
        "measure": measure.measure,
        "margin": margin,
        "span_low": measure.span_low,
        "span_high": measure.span_high,
        "usual_low": measure.usual_low,
        "usual_high": measure.usual_high,
        "max_step": measure.max_step,
        "flat_after_min": measure.flat_after_min,
        # Nothing lasts longer than for ever: an empty flat_after_min switches the test off.
        "flat_after": _EVER if measure.flat_after_min is None else timedelta(minutes=measure.flat_after_min),
    }
    whole = _Span(span.from_at - margin, span.to_at + margin + timedelta(microseconds=1))
    for piece in _slices(whole):
        here = values | {"from_at": piece.from_at, "to_at": piece.to_at}
        for step in ("20_candidate", "21_flat_run", "22_unflag", "23_reading"):
            execute(engine, f"derive/{step}", here)


def _derive_minutes(
    engine: duckdb.DuckDBPyConnection, campaign: Campaign, measure: Measure, span: _Span
) -> None:
    margin = _minute_margin(campaign, measure)
    values = {"measure": measure.measure, "kind": measure.kind, "margin": margin}
    is_counted = measure.kind in ("count", "total")
    minutes = "31_mote_minute_of_count" if is_counted else "30_mote_minute_of_level"
    whole = _Span(_minute(span.from_at - margin), _minute(span.to_at + margin) + timedelta(minutes=1))
    for piece in _slices(whole):
        here = values | {"from_at": piece.from_at, "to_at": piece.to_at}
        for step in (minutes, "32_unminute", "33_mote_minute"):
            execute(engine, f"derive/{step}", here)
    execute(engine, "derive/40_expected")
    for piece in _slices(whole):
        here = values | {"from_at": piece.from_at, "to_at": piece.to_at}
        for step in ("41_unzone", "42_zone_minute"):
            execute(engine, f"derive/{step}", here)


def _minute(moment: datetime) -> datetime:
    return moment.replace(second=0, microsecond=0)
