"""Readings with flags and minutes, around what changed."""

from datetime import timedelta
from typing import Any

import duckdb

from motelake.core.campaign import Campaign
from motelake.core.register import Measure
from motelake.warehouse.spans import (
    TEN_MINUTES,
    Span,
    flag_margin,
    minute_margin,
    near_margin,
    read_span,
)
from motelake.warehouse.statements import execute, quoted

_MINUTE = timedelta(minutes=1)
_FLAG_STEPS = (
    "19_doubtful",
    "20_course",
    "21_flat_burst",
    "22_flagged",
    "23_unflag",
    "24_reading",
    "25_moved",
)


def look_around(engine: duckdb.DuckDBPyConnection, campaign: Campaign) -> None:
    """Finds the bursts around the reach whose readings the tests of any measure look at."""
    span = read_span(engine, "reach") or Span(campaign.starts_at, campaign.starts_at)
    margins = [flag_margin(campaign, measure) for measure in campaign.register.measures]
    margin = 2 * max(margins, default=timedelta(0))
    execute(engine, "derive/15_around", {"margin": margin, "near": near_margin(campaign)} | span.values())


def derive_readings(engine: duckdb.DuckDBPyConnection, campaign: Campaign, measure: Measure) -> None:
    """Makes readings, flags and minutes of one measure again as far as the reach goes and they change.

    Adds to the temporary table reached where its minutes may have changed, mote by mote.
    """
    span = read_span(engine, "reach")
    if span is None:
        return
    _derive_flags(engine, campaign, measure, span)
    moved = read_span(engine, "moved")
    if moved is None:
        return
    if _may_be_odd(measure):
        values = {"measure": measure.measure} | moved.values()
        for step in ("26_forget_ten_minute", "27_ten_minute"):
            execute(engine, f"derive/{step}", values)
    _derive_minutes(engine, campaign, measure, moved)


def derive_odd(engine: duckdb.DuckDBPyConnection, measure: Measure) -> None:
    """Finds again which motes are odd ones out around what was reached.

    Leaves behind the reach of the motes of which that changed.
    """
    span = read_span(engine, "reached", measure)
    if span is None or not _may_be_odd(measure):
        engine.execute("delete from reach")
        return
    wide = span.with_margin(timedelta(0), TEN_MINUTES)
    values = {"measure": measure.measure, "max_step": measure.max_step} | wide.values()
    for step in ("34_odd_in_hand", "35_reach_of_odd", "36_forget_odd", "37_odd"):
        execute(engine, f"derive/{step}", values)


def derive_zones(engine: duckdb.DuckDBPyConnection, measure: Measure) -> None:
    """Makes the zone minutes of one measure again around what was reached."""
    span = read_span(engine, "reached", measure)
    if span is None:
        return
    values = {"measure": measure.measure, "kind": measure.kind}
    for day in span.with_margin(timedelta(0), _MINUTE).days():
        for step in ("41_unzone", "42_zone_minute"):
            execute(engine, f"derive/{step}", values | day.values())


def _derive_flags(
    engine: duckdb.DuckDBPyConnection, campaign: Campaign, measure: Measure, span: Span
) -> None:
    column = quoted(f"reading_{measure.measure}")
    engine.execute(
        "create or replace temp view measured as "
        f"select burst, mote, boot, seq, sampled_at, {column} as value from changed "
        f"where {column} is not null"
    )
    engine.execute("create or replace temp table moved as select mote, from_at, to_at from reach limit 0")
    margin = flag_margin(campaign, measure)
    values: dict[str, Any] = {
        "measure": measure.measure,
        "margin": margin,
        "near": near_margin(campaign),
        "span_low": measure.span_low,
        "span_high": measure.span_high,
        "usual_low": measure.usual_low,
        "usual_high": measure.usual_high,
        "max_step": measure.max_step,
        "flat_after_min": measure.flat_after_min,
        "flat_us": None if measure.flat_after_min is None else round(measure.flat_after_min * 60_000_000),
    }
    for day in span.with_margin(margin).days():
        for step in _FLAG_STEPS:
            execute(engine, f"derive/{step}", values | day.values())
    execute(engine, "derive/28_join_moved")


def _derive_minutes(
    engine: duckdb.DuckDBPyConnection, campaign: Campaign, measure: Measure, moved: Span
) -> None:
    margin = minute_margin(campaign, measure)
    is_counted = measure.kind in ("count", "total")
    minutes = "31_mote_minute_of_count" if is_counted else "30_mote_minute_of_level"
    values = {"measure": measure.measure, "kind": measure.kind, "margin": margin}
    for day in moved.with_margin(margin, _MINUTE).days():
        for step in (minutes, "32_unminute", "33_mote_minute"):
            execute(engine, f"derive/{step}", values | day.values())
    execute(engine, "derive/38_reached", values)


def _may_be_odd(measure: Measure) -> bool:
    return measure.max_step is not None and measure.kind not in ("count", "total")
