"""Readings with flags and minutes, around what changed."""

import duckdb

from motelake.core.campaign import Campaign
from motelake.core.register import Measure
from motelake.warehouse.bursts import BURSTS_BACK
from motelake.warehouse.hearings import reading_columns
from motelake.warehouse.spans import (
    DAY,
    TEN_MINUTES,
    far_margin,
    longest_period,
    near_margin,
    read_span,
    stretch_us,
)
from motelake.warehouse.statements import execute, quoted

_READINGS = (
    "21_scope",
    "22_stored",
    "23_course",
    "24_flat_burst",
    "25_judged",
    "26_flagged",
    "27_reading",
    "28_moved",
)


def derive_readings(engine: duckdb.DuckDBPyConnection, campaign: Campaign) -> None:
    """Makes readings, flags and minutes again as far as the reach goes and they change.

    Works on the bursts in hand, and on what stands in the warehouse where they are not. Adds to work.reached
    where minutes may have changed, by measure and mote.
    """
    measures = campaign.register.measures
    span = read_span(engine, "reach")
    if span is None or not measures:
        return
    far, period = far_margin(campaign), longest_period(campaign)
    looked_at = span.with_margin(2 * far + period + 2 * TEN_MINUTES)
    values = looked_at.values() | {
        "near": near_margin(campaign),
        "margin": far,
        "period": period,
        "day": DAY,
        "stretch_us": stretch_us(campaign, BURSTS_BACK),
    }
    flat = [one for one in measures if one.flat_after_min is not None]
    execute(engine, "derive/20_doubtful" if flat else "derive/20_none_doubtful", values, flat)
    for step in _READINGS:
        execute(engine, f"derive/{step}", values, measures)
    odd = [one for one in measures if may_be_odd(one)]
    if odd:
        execute(engine, "derive/29_ten_minute", values, odd)
    _derive_minutes(engine, campaign, values)


def find_odd(engine: duckdb.DuckDBPyConnection, campaign: Campaign) -> None:
    """Finds again which motes are odd ones out around what was reached.

    Leaves behind the reach of the motes of which that changed, and that none of their bursts is in hand.
    """
    columns = reading_columns(engine, "work.hearing")
    readings = "".join(f", null::double as {quoted(column)}" for column in columns)
    engine.execute(f"create or replace temp table burst_in_hand as select *{readings} from burst limit 0")
    engine.execute(
        "create or replace temp table reach "
        "(mote varchar, from_at timestamptz, to_at timestamptz, seen_from timestamptz)"
    )
    execute(engine, "derive/35_compared")
    span = read_span(engine, "compared")
    for piece in span.pieces(campaign) if span else ():
        execute(engine, "derive/36_odd_in_hand", piece.values())
    for step in ("37_reach_of_odd", "38_odd"):
        execute(engine, f"derive/{step}")


def derive_zones(engine: duckdb.DuckDBPyConnection, campaign: Campaign) -> None:
    """Makes the zone minutes again around what was reached."""
    execute(engine, "derive/41_zone_reach")
    span = read_span(engine, "zone_reach")
    for piece in span.with_margin(TEN_MINUTES).pieces(campaign) if span else ():
        execute(engine, "derive/42_zone_minute", piece.values())


def may_be_odd(measure: Measure) -> bool:
    """Whether motes are compared by this measure: people are where they are, so counts are left alone."""
    return measure.max_step is not None and measure.kind not in ("count", "total")


def _derive_minutes(engine: duckdb.DuckDBPyConnection, campaign: Campaign, values: dict[str, object]) -> None:
    moved = read_span(engine, "moved")
    if moved is None:
        return
    measures = campaign.register.measures
    counts = [one for one in measures if one.kind == "count"]
    levels = [one for one in measures if one.kind not in ("count", "total")]
    execute(engine, "derive/30_forget_minute", moved.with_margin(TEN_MINUTES).values())
    if levels:
        execute(engine, "derive/31_minute_of_level", values, levels)
    engine.execute(
        "create or replace temp table counted "
        "(mote varchar, measure varchar, to_us bigint, covers_us bigint, value double, is_good boolean)"
    )
    if counts:
        execute(engine, "derive/32_counted", values, counts)
    if any(one.kind == "total" for one in measures):
        execute(engine, "derive/33_counted_of_total", values)
    execute(engine, "derive/34_minute_of_counted")
