"""Loading: raw objects that count now go in, those that no longer do go out, with the record, all at once."""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

import duckdb

from motelake.core.campaign import Campaign, campaign_parts
from motelake.core.manifests import Manifest, StagedObject
from motelake.engine import transaction
from motelake.warehouse.bursts import Moved
from motelake.warehouse.derive import derive
from motelake.warehouse.hearings import add_hearings, motes_of, remove_hearings, shape_hearings
from motelake.warehouse.record import forget_objects, read_objects, record_manifest, recorded, settle_record
from motelake.warehouse.register import write_register
from motelake.warehouse.statements import execute
from motelake.warehouse.store import read_state, write_state

State = Literal["loaded", "admitted", "held", "discarded", "unchecked"]
COUNTING: tuple[State, ...] = ("loaded", "admitted")
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


def changed_parts(engine: duckdb.DuckDBPyConnection, campaign: Campaign) -> set[str]:
    """The parts of the campaign that are not what the warehouse was made with."""
    return {
        part
        for part, value in campaign_parts(campaign).items()
        if read_state(engine, f"part:{part}") != value
    }


def load_deliveries(
    engine: duckdb.DuckDBPyConnection,
    campaign: Campaign,
    deliveries: Iterable[Delivery],
    say: Callable[[str], None],
    state: Mapping[str, str],
) -> int:
    """Brings the warehouse up to these deliveries and this campaign in one transaction, and remembers state.

    Returns the number of raw objects that went in or out. Either all of it is there afterwards, or nothing.
    """
    with transaction(engine):
        moved = _load(engine, campaign, deliveries, say)
        for key, value in state.items():
            write_state(engine, key, value)
    return moved


def _load(
    engine: duckdb.DuckDBPyConnection,
    campaign: Campaign,
    deliveries: Iterable[Delivery],
    say: Callable[[str], None],
) -> int:
    parts = changed_parts(engine, campaign)
    if parts:
        write_register(engine, campaign)
        shape_hearings(engine, [measure.measure for measure in campaign.register.measures])
    known = read_objects(engine)
    touched: set[str] = set()
    moved = Moved()
    moves = 0
    for delivery in deliveries:
        batch = delivery.manifest.number
        if delivery.objects and all(
            known.get(judged.staged.name) == recorded(batch, judged) for judged in delivery.objects
        ):
            continue
        leaving = [
            judged.staged.name
            for judged in delivery.objects
            if (old := known.get(judged.staged.name)) is not None
            and old.state in COUNTING
            and (old.batch != batch or judged.state not in COUNTING)
        ]
        coming = [
            judged.staged.name
            for judged in delivery.objects
            if judged.state in COUNTING
            and (
                (old := known.get(judged.staged.name)) is None
                or old.state not in COUNTING
                or old.batch != batch
            )
        ]
        moved.motes_left |= motes_of(engine, leaving)
        remove_hearings(engine, leaving)
        if coming:
            add_hearings(engine, delivery.staged_files(), coming, batch)
            touched |= motes_of(engine, coming, batch)
            moved.objects += coming
            moved.batches.append(batch)
        forget_objects(engine, [judged.staged.name for judged in delivery.objects])
        known |= record_manifest(engine, delivery.manifest, delivery.objects, delivery.reject_files)
        moves += len(set(leaving) | set(coming))
    if parts & set(_DECISIVE):
        execute(engine, "derive/forget")
        touched = {row[0] for row in engine.execute("select distinct mote from work.hearing").fetchall()}
    touched |= moved.motes_left
    touched &= {mote.mote for mote in campaign.register.motes}
    if touched:
        derive(engine, campaign, touched, moved, say)
    settle_record(engine)
    for part, value in campaign_parts(campaign).items():
        write_state(engine, f"part:{part}", value)
    return moves
