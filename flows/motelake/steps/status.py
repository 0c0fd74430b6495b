"""How a lake stands: told from its own record and from what is published, so that no writer is ever met."""

from collections.abc import Mapping
from contextlib import closing
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING, Any

from motelake.config import Config
from motelake.core.account import (
    OnRecord,
    account,
    count_batches,
    count_lines,
    sum_by_name,
)
from motelake.core.campaign import Campaign
from motelake.core.pending import known_objects, pending
from motelake.core.published import Current
from motelake.engine import open_engine
from motelake.errors import SurroundingsError
from motelake.lake.chain import read_manifests
from motelake.lake.records import read_decisions, read_verdicts
from motelake.lake.store import Lake
from motelake.steps.disk import DiskUse, disk_use
from motelake.steps.read import open_snapshot, read_current
from motelake.steps.report import Report
from motelake.steps.stage import accept, staging_inputs

if TYPE_CHECKING:
    import duckdb

MOTES_TOLD = 20


@dataclass(frozen=True)
class Status(Report):
    """How a lake stands.

    lines: read = staged + duplicates + rejected; rejects: lines by reason; reading_rejects: single readings;
    dropped: fields that no measure of the register takes; held and refused need a person; waiting: raw
    objects by the step that is next; fleet: motes by state, as the snapshot has it; disk: bytes.
    """

    title: str
    lines: Mapping[str, int]
    rejects: Mapping[str, int]
    reading_rejects: int
    dropped: Mapping[str, int]
    batches: Mapping[str, int]
    objects: Mapping[str, int]
    held: tuple[str, ...]
    held_because: Mapping[str, str]
    refused: tuple[str, ...]
    waiting: Mapping[str, int]
    fleet: Mapping[str, Any]
    warehouse: Mapping[str, Any]
    snapshot: Mapping[str, Any] | None
    disk: DiskUse

    @property
    def needs_attention(self) -> bool:
        """True where an object waits for a person."""
        return bool(self.held or self.refused)


def status(lake: Lake, campaign: Campaign, config: Config) -> Status:
    """How a lake stands, from before anything was staged on, and while another process is at work.

    What is loaded but not published yet is looked up in the warehouse where that is free.
    """
    accepted, refused = accept(lake.list("raw"))
    manifests = read_manifests(lake)
    still_raw = pending(accepted, known_objects(manifests), staging_inputs(campaign))
    verdicts = read_verdicts(lake, [manifest.id for manifest in manifests])
    decisions = read_decisions(lake)
    current = read_current(lake)
    on_record: Mapping[str, OnRecord] = {}
    fleet: dict[str, Any] = {"motes": len(campaign.register.motes)}
    if current is not None:
        with closing(open_snapshot(lake)) as snapshot:
            on_record = _read_record(snapshot)
            fleet |= _read_fleet(snapshot)
    objects = account(manifests, verdicts, decisions, on_record)
    if any(one.awaits_load for one in objects):
        newer = _ask_warehouse(config)
        if newer is not None:
            objects = account(manifests, verdicts, decisions, newer)
    held = {one.staged.name: one.why for one in objects if one.state == "held"}
    return Status(
        title=campaign.title,
        lines=count_lines(objects),
        rejects=sum_by_name(one.staged.rejected for one in objects),
        reading_rejects=sum(one.staged.reading_rejects for one in objects),
        dropped=sum_by_name(one.staged.dropped for one in objects),
        batches=count_batches(manifests, objects),
        objects=sum_by_name({one.state: 1} for one in objects),
        held=tuple(held),
        held_because=held,
        refused=(*refused, *(str(error) for error in still_raw.changed)),
        waiting={
            "stage": len(still_raw.objects),
            "check": sum(one.state == "unchecked" for one in objects),
            "load": sum(one.awaits_load for one in objects),
            "decision": len(held),
        },
        fleet=fleet,
        warehouse=_warehouse_facts(config),
        snapshot=_snapshot_facts(lake, current),
        disk=disk_use(lake, config),
    )


def _ask_warehouse(config: Config) -> dict[str, OnRecord] | None:
    """What the warehouse has on record, None where it is missing or another process is at work in it."""
    if not config.warehouse.is_file():
        return None
    try:
        with closing(open_engine(config.warehouse, is_read_only=True)) as engine:
            return _read_record(engine)
    except SurroundingsError:
        return None


def _read_record(engine: "duckdb.DuckDBPyConnection") -> dict[str, OnRecord]:
    rows = engine.execute("select object, batch, state, duplicates from raw_object").fetchall()
    return {name: OnRecord(batch, state, duplicates) for name, batch, state, duplicates in rows}


def _read_fleet(engine: "duckdb.DuckDBPyConnection") -> dict[str, Any]:
    rows = engine.execute(
        "select state, count(*), max(last_heard_at) from fleet.state group by state order by 2 desc, 1"
    ).fetchall()
    missed = engine.execute(
        "select mote from fleet.state where state in ('silent', 'never heard') "
        "order by silent_min desc, mote limit $most",
        {"most": MOTES_TOLD},
    ).fetchall()
    heard: list[datetime] = [at for _, _, at in rows if at is not None]
    return {
        "states": {state: count for state, count, _ in rows},
        "silent": [mote for (mote,) in missed],
        "last_heard_at": max(heard, default=None),
    }


def _warehouse_facts(config: Config) -> dict[str, Any]:
    is_there = config.warehouse.is_file()
    size = config.warehouse.stat().st_size if is_there else 0
    return {"file": str(config.warehouse), "is_there": is_there, "size_bytes": size}


def _snapshot_facts(lake: Lake, current: Current | None) -> dict[str, Any] | None:
    if current is None:
        return None
    return {
        "id": current.id,
        "file": f"{lake.url}/published/{current.snapshot}",
        "made_at": current.made_at,
        "data_from": current.data_from,
        "data_to": current.data_to,
    }
