"""Loading: raw objects that count now go in, those that no longer do go out, with the record, all at once."""

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

import duckdb

from motelake.core.account import COUNTING
from motelake.core.campaign import Campaign, campaign_parts
from motelake.core.manifests import Manifest, StagedObject
from motelake.core.sentences import Say
from motelake.engine import transaction
from motelake.warehouse.bursts import Moved
from motelake.warehouse.derive import compare, derive, is_compared
from motelake.warehouse.hearings import add_hearings, motes_of, remove_hearings, shape_hearings
from motelake.warehouse.record import (
    Recorded,
    forget_objects,
    read_objects,
    record_manifest,
    recorded,
    settle_record,
)
from motelake.warehouse.register import write_register
from motelake.warehouse.statements import execute
from motelake.warehouse.store import read_state, write_state

State = Literal["loaded", "admitted", "held", "discarded", "unchecked"]
# The fact by which a warehouse knows its own lake, from the first transaction on.
OWN_LAKE = "lake"
# Bounds the log of one transaction, and what a load that was killed has to do again. Fewer transactions are
# quicker: in each one, motes that do not simply go on are looked through from their beginning.
LINES_AT_ONCE = 16_000_000
# A change of these changes what follows from the same hearings; programme and context only stand beside it.
_DECISIVE = ("campaign", "motes", "zones", "measures", "placements")


@dataclass(frozen=True)
class Judged:
    """A staged raw object with what was decided about it; verdict says why it is held or what it warns of."""

    staged: StagedObject
    state: State
    verdict: str | None = None


@dataclass(frozen=True)
class Delivery:
    """A manifest with its judged objects and where DuckDB can read its files.

    The staged files are asked for only where something goes in: in a remote lake they are fetched then.
    """

    manifest: Manifest
    objects: Sequence[Judged]
    staged_files: Callable[[], Sequence[str]]
    reject_files: Sequence[str]


def changed_parts(engine: duckdb.DuckDBPyConnection, campaign: Campaign) -> dict[str, str]:
    """The parts of the campaign that are not what the warehouse was made with, each with its hash."""
    return {
        part: value
        for part, value in campaign_parts(campaign).items()
        if read_state(engine, f"part:{part}") != value
    }


def load_deliveries(
    engine: duckdb.DuckDBPyConnection,
    campaign: Campaign,
    deliveries: Iterable[Delivery],
    say: Say,
    state: Mapping[str, str],
) -> int:
    """Brings the warehouse up to these deliveries and this campaign, and remembers state.

    Returns the number of raw objects that went in or out. A long backlog goes in by several transactions,
    each with its record; in the last one the motes are compared. A load that ends before leaves fewer
    batches loaded, none in part, and motes that wait to be compared: the next load goes on from there.
    """
    remaining = iter(deliveries)
    moves, is_through = 0, False
    while not is_through:
        with transaction(engine):
            moved, is_through = _load(engine, campaign, remaining, say)
            if OWN_LAKE in state:
                write_state(engine, OWN_LAKE, state[OWN_LAKE])
        moves += moved
    with transaction(engine):
        if not is_compared(engine):
            compare(engine, campaign)
        for key, value in state.items():
            write_state(engine, key, value)
    return moves


def _load(
    engine: duckdb.DuckDBPyConnection,
    campaign: Campaign,
    deliveries: Iterator[Delivery],
    say: Say,
) -> tuple[int, bool]:
    """Loads as many of the deliveries as go at once; returns what moved, and whether that were all."""
    parts = changed_parts(engine, campaign)
    if parts:
        write_register(engine, campaign)
        shape_hearings(engine, [measure.measure for measure in campaign.register.measures])
    known = read_objects(engine)
    touched: set[str] = set()
    moved = Moved()
    moves, lines, is_through = 0, 0, True
    for delivery in deliveries:
        if _is_recorded(delivery, known):
            continue
        leaving, coming = _moving(delivery, known)
        touched |= _move(engine, delivery, leaving, coming, moved)
        known |= record_manifest(engine, delivery.manifest, delivery.objects, delivery.reject_files)
        moves += len(set(leaving) | set(coming))
        lines += sum(one.staged.lines.parsed for one in delivery.objects if one.staged.name in coming)
        if lines >= LINES_AT_ONCE:
            is_through = False
            break
    if parts.keys() & set(_DECISIVE):
        execute(engine, "derive/forget")
        touched = {row[0] for row in engine.execute("select distinct mote from work.hearing").fetchall()}
    touched |= moved.motes_left
    touched &= {mote.mote for mote in campaign.register.motes}
    if touched:
        derive(engine, campaign, touched, moved, say)
    settle_record(engine)
    for part, value in parts.items():
        write_state(engine, f"part:{part}", value)
    return moves, is_through


def _is_recorded(delivery: Delivery, known: Mapping[str, Recorded]) -> bool:
    batch = delivery.manifest.number
    return bool(delivery.objects) and all(
        known.get(judged.staged.name) == recorded(batch, judged) for judged in delivery.objects
    )


def _moving(delivery: Delivery, known: Mapping[str, Recorded]) -> tuple[list[str], list[str]]:
    """The raw objects that leave the warehouse and those that come in; one of another batch does both."""
    leaving, coming = [], []
    for judged in delivery.objects:
        name, old = judged.staged.name, known.get(judged.staged.name)
        was_counting = old is not None and old.state in COUNTING
        is_counting = judged.state in COUNTING
        is_of_this_batch = old is not None and old.batch == delivery.manifest.number
        if was_counting and not (is_counting and is_of_this_batch):
            leaving.append(name)
        if is_counting and not (was_counting and is_of_this_batch):
            coming.append(name)
    return leaving, coming


def _move(
    engine: duckdb.DuckDBPyConnection,
    delivery: Delivery,
    leaving: Sequence[str],
    coming: Sequence[str],
    moved: Moved,
) -> set[str]:
    """Takes hearings out and in, and notes it in moved; returns the motes of which some came in."""
    moved.motes_left |= motes_of(engine, leaving)
    remove_hearings(engine, leaving)
    forget_objects(engine, [judged.staged.name for judged in delivery.objects])
    if not coming:
        return set()
    batch = delivery.manifest.number
    add_hearings(engine, delivery.staged_files(), coming, batch)
    moved.objects += coming
    moved.batches.append(batch)
    return motes_of(engine, coming, batch)
