"""Bursts from hearings: which hearings are one burst, of which boot, measured when."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime

import duckdb

from motelake.core.campaign import Campaign
from motelake.warehouse.statements import execute

# Bounds the memory of one group of motes: what is derived of it is dropped before the next group begins.
HEARINGS_AT_ONCE = 500_000
# How many bursts of a boot are looked at again when it goes on: an hour of bursts of 20 s.
BURSTS_BACK = 180
_BOOTED = ("01_hearing_in_hand", "02_start", "03_placed", "04_stray", "05_stray_boot", "06_booted")
_BOOTED_IN_WINDOW = ("01_hearing_in_window", "06_booted_in_window")
_BURSTS = (
    "07_timed",
    "08_unnumbered",
    "09_heard",
    "10_shared",
    "11_burst_in_hand",
    "12_stored_burst",
    "13_changed",
    "14_reach",
    "15_burst",
)
# What is not needed once the bursts are there.
_PASSING = (
    "hearing_in_hand",
    "start",
    "placed",
    "stray",
    "stray_boot",
    "booted",
    "timed",
    "unnumbered",
    "heard",
    "shared",
)
_EVER = datetime(1970, 1, 1, tzinfo=UTC)


@dataclass
class Moved:
    """What went in and out: raw objects that came, in which batches, and the motes of those that left."""

    objects: list[str] = field(default_factory=list)
    batches: list[int] = field(default_factory=list)
    motes_left: set[str] = field(default_factory=set)


@dataclass(frozen=True)
class Group:
    """Motes that are worked on together; of those that just went on a window of hearings is enough."""

    bucket: int
    is_going_on: bool


def group_motes(
    engine: duckdb.DuckDBPyConnection, campaign: Campaign, motes: Collection[str], moved: Moved
) -> Sequence[Group]:
    """Writes period and group of every mote in hand; returns the groups. Other motes have none."""
    _write_periods(engine, campaign, {})
    execute(
        engine,
        "derive/00_going_on",
        {"batches": moved.batches, "objects": moved.objects, "motes": sorted(set(motes) - moved.motes_left)},
    )
    engine.execute(
        "update work.course set low_us = going_on.low_us, high_us = going_on.high_us, "
        "last_us = going_on.last_us, above_us = going_on.above_us "
        "from going_on where going_on.mote = course.mote"
    )
    going_on = dict(engine.execute("select mote, hearings from going_on").fetchall())
    others = dict(
        engine.execute(
            "select mote, count(*) from work.hearing where mote in (select unnest($motes)) group by mote",
            {"motes": sorted(set(motes) - set(going_on))},
        ).fetchall()
    )
    others = dict.fromkeys(set(motes) - set(going_on), 0) | others
    for table in ("course", "late"):
        engine.execute(
            f"delete from work.{table} where mote in (select unnest($motes))", {"motes": list(others)}
        )
    window = {mote: hearings + BURSTS_BACK for mote, hearings in going_on.items()}
    groups_of = _share_out(window, first=0)
    first = 1 + max(groups_of.values(), default=-1)
    groups_of |= _share_out(others, first)
    _write_periods(engine, campaign, groups_of)
    return [Group(bucket, bucket < first) for bucket in sorted(set(groups_of.values()))]


def derive_bursts(engine: duckdb.DuckDBPyConnection, group: Group) -> None:
    """Brings the bursts of one group of motes up to their hearings.

    Leaves behind the temporary tables burst_in_hand (bursts with their readings) and reach (each mote of
    which something changed, from_at, to_at in its own time).
    """
    values = {
        "bucket": group.bucket,
        "bursts_back": BURSTS_BACK,
        "heard_from": _EVER,
        "seen_from": _EVER,
    }
    if group.is_going_on:
        values |= _read_window(engine, group)
    for step in (*(_BOOTED_IN_WINDOW if group.is_going_on else _BOOTED), *_BURSTS):
        execute(engine, f"derive/{step}", values)
    if group.is_going_on:
        engine.execute(
            "delete from work.duplicate using hearing_in_hand as hand "
            "where duplicate.object = hand.object and duplicate.line = hand.line"
        )
    else:
        engine.execute(
            "delete from work.duplicate where mote in "
            "(select mote from work.mote_period where bucket = $bucket)",
            {"bucket": group.bucket},
        )
    engine.execute(
        "insert into work.duplicate select object, line, hand.mote from shared "
        "join hearing_in_hand as hand using (hearing) where not shared.is_new"
    )
    for step in ("16_course_in_window",) if group.is_going_on else ("16_course", "17_late"):
        execute(engine, f"derive/{step}", values)
    for table in _PASSING:
        engine.execute(f"drop table if exists {table}")


def _read_window(engine: duckdb.DuckDBPyConnection, group: Group) -> dict[str, datetime]:
    """From when on the hearings of these motes are received, and their bursts measured at the earliest."""
    row = engine.execute(
        "select min(make_timestamptz(course.low_us + course.seq_from * period.period_us)) "
        "from work.course join work.mote_period as period using (mote) where period.bucket = $bucket",
        {"bucket": group.bucket},
    ).fetchone()
    return {"heard_from": row[0], "seen_from": row[0]} if row else {}


def _share_out(hearings: Mapping[str, int], first: int) -> dict[str, int]:
    """The group of each mote, numbered from first, each with hearings of so many neighbours as go at once."""
    groups: dict[str, int] = {}
    reached = 0
    for mote in sorted(hearings):
        groups[mote] = first + reached // HEARINGS_AT_ONCE
        reached += hearings[mote]
    return groups


def _write_periods(
    engine: duckdb.DuckDBPyConnection, campaign: Campaign, group_of_mote: Mapping[str, int]
) -> None:
    rows = []
    for mote, period_s in campaign.periods_s().items():
        period_us = round(period_s * 1e6)
        drift_ns = round(period_us * campaign.drift_ppm / 1000)
        rows.append((mote, group_of_mote.get(mote), period_us, drift_ns))
    engine.execute("delete from work.mote_period")
    if rows:
        names = ("motes", "groups", "periods", "drifts")
        engine.execute(
            "insert into work.mote_period "
            "select unnest($motes), unnest($groups), unnest($periods), unnest($drifts)",
            dict(zip(names, map(list, zip(*rows, strict=True)), strict=True)),
        )
