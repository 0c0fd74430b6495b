"""Bursts from hearings: which hearings are one burst, of which boot, measured when."""

from collections.abc import Collection

import duckdb

from motelake.core.campaign import Campaign
from motelake.warehouse.hearings import reading_columns
from motelake.warehouse.statements import execute, quoted

# Bounds the memory of one group of motes: what is derived of it is dropped before the next group begins.
HEARINGS_AT_ONCE = 500_000
_STEPS = (
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


def group_motes(engine: duckdb.DuckDBPyConnection, campaign: Campaign, motes: Collection[str]) -> int:
    """Writes period and group of every mote; returns the number of groups. Motes not in hand have no group."""
    row = engine.execute(
        "select count(*) from work.hearing where mote in (select unnest($motes))", {"motes": list(motes)}
    ).fetchone()
    groups = -(-(row[0] if row else 0) // HEARINGS_AT_ONCE) or 1
    in_hand = {mote: position % groups for position, mote in enumerate(sorted(motes))}
    rows = []
    for mote in campaign.register.motes:
        period_us = round((mote.burst_period_s or campaign.burst_period_s) * 1e6)
        drift_ns = round(period_us * campaign.drift_ppm / 1000)
        rows.append((mote.mote, in_hand.get(mote.mote), period_us, drift_ns))
    engine.execute("delete from work.mote_period")
    if rows:
        names = ("motes", "groups", "periods", "drifts")
        engine.execute(
            "insert into work.mote_period "
            "select unnest($motes), unnest($groups), unnest($periods), unnest($drifts)",
            dict(zip(names, map(list, zip(*rows, strict=True)), strict=True)),
        )
    return groups


def derive_bursts(engine: duckdb.DuckDBPyConnection, group: int) -> None:
    """Brings the bursts of one group of motes up to their hearings.

    Leaves behind what that changed: the temporary tables changed (bursts with their readings), gone (bursts)
    and reach (each such mote, from_at, to_at in its own time).
    """
    for step in _STEPS:
        execute(engine, f"derive/{step}", {"bucket": group})
    engine.execute(
        "delete from work.duplicate where mote in (select mote from work.mote_period where bucket = $bucket)",
        {"bucket": group},
    )
    engine.execute(
        "insert into work.duplicate select object, line, hearing.mote from shared "
        "join work.hearing on hearing.rowid = shared.hearing where not shared.is_new"
    )
    engine.execute("delete from burst where burst in (select burst from gone)")
    engine.execute(
        "insert into burst by name select columns(lambda name: not starts_with(name, 'reading_')) from changed"
    )
    execute(engine, "derive/13_reach")
    for table in ("hearing_in_hand", "placed", "timed", "heard", "shared", "unnumbered", "burst_in_hand"):
        engine.execute(f"drop table {table}")


def change_nothing(engine: duckdb.DuckDBPyConnection) -> None:
    """Leaves behind that no burst changed."""
    columns = reading_columns(engine, "work.hearing")
    readings = "".join(f", null::double as {quoted(column)}" for column in columns)
    engine.execute(f"create or replace temp table changed as select *{readings} from burst limit 0")
    engine.execute("create or replace temp table gone as select burst, mote, sampled_at from burst limit 0")
