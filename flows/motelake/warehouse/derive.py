"""What follows from the hearings: bursts, readings with flags, minutes, made again where new bursts reach.

The statements under sql/derive/ say what each of these is; here is in which order. A mote stands alone but
for the odd-one-out test and the zones, so bursts, readings and minutes are made by groups of motes. Then the
motes are compared, and of those that turn out odd, or no longer so, readings and minutes are made once more.
"""

from collections.abc import Callable, Collection

import duckdb

from motelake.core.campaign import Campaign
from motelake.warehouse.bursts import Moved, derive_bursts, group_motes
from motelake.warehouse.readings import derive_readings, derive_zones, find_odd
from motelake.warehouse.spans import read_span
from motelake.warehouse.statements import execute


def derive(
    engine: duckdb.DuckDBPyConnection,
    campaign: Campaign,
    motes: Collection[str],
    moved: Moved,
    say: Callable[[str], None],
) -> None:
    """Brings bursts, readings, minutes and references of these motes up to their hearings, after what moved.

    Runs inside the caller's transaction.
    """
    execute(engine, "derive/00_words")
    execute(engine, "derive/40_expected")
    engine.execute(
        "create or replace temp table reached "
        "(measure varchar, mote varchar, from_at timestamptz, to_at timestamptz)"
    )
    engine.execute("create or replace temp table reach_of_bursts (from_at timestamptz, to_at timestamptz)")
    groups = group_motes(engine, campaign, motes, moved)
    for turn, group in enumerate(groups, start=1):
        if len(groups) > 1:
            say(f"bursts, readings and minutes: group {turn} of {len(groups)}")
        derive_bursts(engine, group)
        derive_readings(engine, campaign)
        engine.execute("insert into reach_of_bursts select from_at, to_at from reach")
    find_odd(engine, campaign)
    derive_readings(engine, campaign)
    derive_zones(engine)
    _derive_references(engine)


def _derive_references(engine: duckdb.DuckDBPyConnection) -> None:
    execute(engine, "derive/60_dirty_hour")
    execute(engine, "derive/50_join_reached")
    span = read_span(engine, "reached")
    if span is None:
        return
    for step in ("51_forget_mote_hour", "52_mote_hour", "53_mote_reference"):
        execute(engine, f"derive/{step}", span.values())
