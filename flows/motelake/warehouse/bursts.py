"""Bursts from hearings: which hearings are one burst, of which boot, measured when."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field

import duckdb

from motelake.core.campaign import Campaign
from motelake.warehouse.hearings import reading_columns
from motelake.warehouse.statements import execute, quoted

# Bounds the memory of one group of motes: what is derived of it is dropped before the next group begins.
HEARINGS_AT_ONCE = 500_000
# How many bursts of a boot are looked at again when it goes on: an hour of bursts of 20 s.
BURSTS_BACK = 180
# The group of the motes that just went on, of which a window of hearings is enough.
GOING_ON = -1
_BOOTED = ("01_hearing_in_hand", "02_start", "03_placed", "04_stray", "05_stray_boot", "06_booted")
_BOOTED_IN_WINDOW = ("01_hearing_in_window", "06_booted_in_window")
_BURSTS = (
    "07_timed",
    "08_unnumbered",
    "09_heard",
    "10_shared",
    "11_burst_in_hand",
    "12_gone",
    "13_changed",
    "14_reach",
)


@dataclass
class Moved:
    """What went in and out: raw objects that came, in which batches, and the motes of those that left."""

    objects: list[str] = field(default_factory=list)
    batches: list[int] = field(default_factory=list)
    motes_left: set[str] = field(default_factory=set)


def group_motes(
    engine: duckdb.DuckDBPyConnection, campaign: Campaign, motes: Collection[str], moved: Moved
) -> Sequence[int]:
    """Writes period and group of every mote in hand; returns the groups. Other motes have none."""
    _write_periods(engine, campaign, {})
    execute(
        engine,
        "derive/00_going_on",
        {"batches": moved.batches, "objects": moved.objects, "motes_left": list(moved.motes_left)},
    )
    going_on = {mote for (mote,) in engine.execute("select mote from going_on").fetchall()} & set(motes)
    engine.execute(
        "update work.course set low_us = going_on.low_us, high_us = going_on.high_us "
        "from going_on where going_on.mote = course.mote"
    )
    others = sorted(set(motes) - going_on)
    for table in ("course", "late"):
        engine.execute(f"delete from work.{table} where mote in (select unnest($motes))", {"motes": others})
    row = engine.execute(
        "select count(*) from work.hearing where mote in (select unnest($motes))", {"motes": others}
    ).fetchone()
    groups = -(-(row[0] if row else 0) // HEARINGS_AT_ONCE) or 1
    in_hand = {mote: position % groups for position, mote in enumerate(others)}
    _write_periods(engine, campaign, in_hand | dict.fromkeys(going_on, GOING_ON))
    return [*([GOING_ON] if going_on else []), *(range(groups) if others else [])]


def derive_bursts(engine: duckdb.DuckDBPyConnection, group: int) -> None:
    """Brings the bursts of one group of motes up to their hearings.

    Leaves behind what that changed: the temporary tables changed (bursts with their readings), gone (bursts)
    and reach (each such mote, from_at, to_at in its own time).
    """
    is_going_on = group == GOING_ON
    for step in (*(_BOOTED_IN_WINDOW if is_going_on else _BOOTED), *_BURSTS):
        execute(engine, f"derive/{step}", {"bucket": group})
    if is_going_on:
        engine.execute(
            "delete from work.duplicate using hearing_in_hand as hand "
            "where duplicate.object = hand.object and duplicate.line = hand.line"
        )
    else:
        engine.execute(
            "delete from work.duplicate where mote in "
            "(select mote from work.mote_period where bucket = $bucket)",
            {"bucket": group},
        )
    engine.execute(
        "insert into work.duplicate select object, line, hand.mote from shared "
        "join hearing_in_hand as hand using (hearing) where not shared.is_new"
    )
    engine.execute("delete from burst where burst in (select burst from gone)")
    engine.execute(
        "insert into burst by name "
        "select columns(lambda name: not starts_with(name, 'reading_')) from changed"
    )
    for step in ("16_course_in_window",) if is_going_on else ("16_course", "17_late"):
        execute(engine, f"derive/{step}", {"bursts_back": BURSTS_BACK})
    own = () if is_going_on else ("start", "placed", "stray", "stray_boot")
    for table in (
        *own,
        "hearing_in_hand",
        "booted",
        "timed",
        "unnumbered",
        "heard",
        "shared",
        "burst_in_hand",
    ):
        engine.execute(f"drop table {table}")


def change_nothing(engine: duckdb.DuckDBPyConnection) -> None:
    """Leaves behind that no burst changed."""
    columns = reading_columns(engine, "work.hearing")
    readings = "".join(f", null::double as {quoted(column)}" for column in columns)
    engine.execute(f"create or replace temp table changed as select *{readings} from burst limit 0")
    engine.execute("create or replace temp table gone as select burst, mote, sampled_at from burst limit 0")


def _write_periods(
    engine: duckdb.DuckDBPyConnection, campaign: Campaign, group_of_mote: Mapping[str, int]
) -> None:
    rows = []
    for mote in campaign.register.motes:
        period_us = round((mote.burst_period_s or campaign.burst_period_s) * 1e6)
        drift_ns = round(period_us * campaign.drift_ppm / 1000)
        rows.append((mote.mote, group_of_mote.get(mote.mote), period_us, drift_ns))
    engine.execute("delete from work.mote_period")
    if rows:
        names = ("motes", "groups", "periods", "drifts")
        engine.execute(
            "insert into work.mote_period "
            "select unnest($motes), unnest($groups), unnest($periods), unnest($drifts)",
            dict(zip(names, map(list, zip(*rows, strict=True)), strict=True)),
        )
