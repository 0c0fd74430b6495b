"""The work on one share, wherever it is done: its warehouse is brought up to the lake, its parts into it."""

import os
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory
from time import monotonic
from typing import TYPE_CHECKING

from motelake.config import Config, as_set_here, default_warehouse
from motelake.core.decisions import Decision
from motelake.core.manifests import Manifest, manifest_name
from motelake.core.shares import Share
from motelake.engine import told_surroundings
from motelake.lake.store import Lake
from motelake.steps.deliveries import find_deliveries
from motelake.steps.published_files import put_published
from motelake.warehouse.load import load_deliveries
from motelake.warehouse.parts import changed_hours, in_loads, record_parts, write_parts
from motelake.warehouse.share import (
    ShareReport,
    count_duplicates,
    parts_of,
    references_of,
    share_warehouse,
    take_tenures,
)
from motelake.warehouse.store import read_state

if TYPE_CHECKING:
    import duckdb

_THROUGH, _HEAD = "manifests_through", "share_head"


@dataclass(frozen=True)
class Order:
    """What is asked of a share: all that decides about its content and is not in the lake's manifests.

    through and head are number and id of the last manifest to look at, so that all shares see the same lake.
    """

    share: Share
    decisions: Mapping[str, Decision]
    judged_with: str
    through: int
    head: str
    is_afresh: bool = False
    """The share's warehouse is made again."""
    writes_all: bool = False
    """Every hour is written again, as some of what was written is gone."""


def load_share(order: Order, lake: Lake, config: Config) -> ShareReport:
    """Brings a share up to the lake, then its parts into the lake; says how it stands afterwards.

    Doing it again, or twice at once, changes nothing: parts are named by their content.
    """
    began = monotonic()
    share, config = order.share, as_set_here(config)
    with (
        told_surroundings("Loading a share"),
        share_warehouse(
            share_folder(config), share, config, lambda engine: _is_of_use(engine, lake, order)
        ) as engine,
        TemporaryDirectory(prefix="motelake-share-", dir=config.work_folder) as work,
    ):
        lake.attach(engine)
        found = find_deliveries(
            engine,
            lake,
            config,
            order.decisions,
            judged_with=order.judged_with,
            work=Path(work),
            until=order.through,
            is_read_in_place=True,
        )
        state = dict(found.state) | {_THROUGH: str(order.through), _HEAD: order.head}
        load_deliveries(engine, share.campaign, found.each, _unheard, state=state)
        take_tenures(engine, share, writes_all=order.writes_all)
        written = _write_hours(lake, engine, Path(work))
        return ShareReport(
            share=share.name,
            parts=parts_of(engine),
            references=references_of(engine),
            duplicates=count_duplicates(engine, share),
            written=tuple(written),
            seconds=round(monotonic() - began, 3),
        )


def share_folder(config: Config) -> Path:
    """Where the shares' warehouses of a lake lie on this machine, whatever file the warehouse itself is."""
    beside = default_warehouse(config.lake, os.environ)
    return config.share_folder / beside.stem if config.share_folder else Path(f"{beside}.shares")


def _is_of_use(engine: "duckdb.DuckDBPyConnection", lake: Lake, order: Order) -> bool:
    """True where the chain of manifests that the share was loaded from is still the lake's."""
    through, head = int(read_state(engine, _THROUGH) or 0), read_state(engine, _HEAD)
    if order.is_afresh or through > order.through:
        return False
    if through == 0:
        return True
    if through == order.through:
        return head == order.head
    name = manifest_name(through)
    found = lake.read_many([name]).get(name)
    return found is not None and Manifest.from_json(found, name).id == head


def _write_hours(lake: Lake, engine: "duckdb.DuckDBPyConnection", work: Path) -> list[str]:
    hours = sorted(changed_hours(engine))
    written: list[str] = []
    for some_hours in in_loads(engine, hours):
        with TemporaryDirectory(dir=work) as folder:
            parts = write_parts(engine, some_hours, Path(folder), source="work.owned_")
            put_published(lake, Path(folder), (part.name for part in parts))
        record_parts(engine, some_hours, parts)
        written += [part.name for part in parts]
    return written


def _unheard(sentence: str) -> None:
    """Whoever sent the order says how the work goes on; here nobody listens."""
