"""What follows from the hearings: bursts, readings with flags, minutes, made again where new bursts reach.

The statements under sql/derive/ say what each of these is; here is in which order. A mote stands alone but
for the odd-one-out test and the zones, so bursts, readings and minutes are made by groups of motes. Then the
motes are compared, and of those that turn out odd, or no longer so, readings and minutes are made once more.
What was reached for waits in the warehouse until then, so that the two may be transactions of their own.
"""

from collections.abc import Collection

import duckdb

from motelake.core.campaign import Campaign
from motelake.core.sentences import Say
from motelake.warehouse.bursts import Moved, derive_bursts, group_motes
from motelake.warehouse.readings import derive_readings, derive_zones, find_odd
from motelake.warehouse.spans import read_span
from motelake.warehouse.statements import execute


def derive(
    engine: duckdb.DuckDBPyConnection,
    campaign: Campaign,
    motes: Collection[str],
    moved: Moved,
    say: Say,
) -> None:
    """Brings bursts, readings and minutes of these motes up to their hearings, each mote alone.

    Runs inside the caller's transaction. The motes are still to be compared.
    """
    execute(engine, "derive/00_words")
    groups = group_motes(engine, campaign, motes, moved)
    for turn, group in enumerate(groups, start=1):
        if len(groups) > 1:
            say(f"bursts, readings and minutes: group {turn} of {len(groups)}")
        derive_bursts(engine, group)
        derive_readings(engine, campaign)
        engine.execute("insert into work.reach_of_bursts select from_at, to_at from reach")


def is_compared(engine: duckdb.DuckDBPyConnection) -> bool:
    """Whether nothing was derived since the motes were last compared."""
    row = engine.execute("select exists (from work.reached) or exists (from work.reach_of_bursts)").fetchone()
    return row == (False,)


def compare(engine: duckdb.DuckDBPyConnection, campaign: Campaign) -> None:
    """Brings odd ones out, zones and references up to the motes, wherever something was derived.

    Runs inside the caller's transaction. What it reads and changes is better committed before: where rows
    leave again in the transaction that made them, DuckDB writes the whole table into its log, row by row.
    """
    execute(engine, "derive/00_words")
    execute(engine, "derive/40_expected")
    find_odd(engine, campaign)
    derive_readings(engine, campaign)
    derive_zones(engine, campaign)
    execute(engine, "derive/60_dirty_hour")
    execute(engine, "derive/50_join_reached")
    span = read_span(engine, "reached")
    if span is not None:
        execute(engine, "derive/51_forget_mote_hour")
        for piece in span.pieces(campaign):
            execute(engine, "derive/52_mote_hour", piece.values())
        execute(engine, "derive/53_mote_reference")
    for table in ("reached", "reach_of_bursts"):
        engine.execute(f"delete from work.{table}")
