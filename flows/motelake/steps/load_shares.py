"""Loading by shares: each share is worked on apart, here or elsewhere; what they say is put together here."""

from collections.abc import Callable, Collection, Iterator, Sequence
from dataclasses import replace
from datetime import UTC, datetime
from functools import partial
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING

from motelake.config import Config
from motelake.core.campaign import Campaign
from motelake.core.manifests import Manifest, manifest_name
from motelake.core.published import Leaving
from motelake.core.sentences import Say
from motelake.core.shares import cut_shares
from motelake.core.verdicts import judging_hash
from motelake.engine import told_surroundings
from motelake.lake.records import read_decisions
from motelake.lake.store import Lake
from motelake.steps.deliveries import find_deliveries
from motelake.steps.each import Each
from motelake.steps.loaded import LoadReport, report_load
from motelake.steps.published_files import note_leaving, read_leaving
from motelake.steps.read import read_current
from motelake.steps.share import Order, load_share
from motelake.warehouse.load import Delivery
from motelake.warehouse.share import ShareReport
from motelake.warehouse.shares import (
    is_news,
    keep_by_shares,
    known_files,
    missing_files,
    refuse_other_keeping,
    take_in,
)
from motelake.warehouse.store import open_warehouse, told_how_to_mend

if TYPE_CHECKING:
    import duckdb


def load_by_shares(
    lake: Lake,
    campaign: Campaign,
    config: Config,
    say: Say,
    each: Each,
    *,
    is_afresh: bool = False,
) -> LoadReport:
    """Brings a warehouse that is kept by shares up to the lake.

    Bursts and readings go into the lake as parts, minutes and the record into the warehouse, all of it at
    once. is_afresh makes the shares' own warehouses again. Raises LockedError where another process is at
    work in the warehouse, InputError where it was made from another lake or in one piece.
    """
    with (
        told_how_to_mend(config),
        told_surroundings("Loading"),
        open_warehouse(config) as engine,
        TemporaryDirectory(prefix="motelake-load-", dir=config.work_folder) as work,
    ):
        refuse_other_keeping(engine, config.lake, is_by_shares=True)
        keep_by_shares(engine)
        lake.attach(engine)
        decisions, judged_with = read_decisions(lake), judging_hash(campaign)
        found = find_deliveries(engine, lake, config, decisions, judged_with=judged_with, work=Path(work))
        deliveries = list(found.each)
        if found.through == 0 or not (is_afresh or _is_due(engine, lake, campaign, deliveries)):
            return report_load(engine, 0)
        head = Manifest.from_json(lake.read(manifest_name(found.through)), manifest_name(found.through))
        orders = [
            Order(share, decisions, judged_with, head.number, head.id, is_afresh)
            for share in cut_shares(campaign, config.share_motes)
        ]
        send = partial(_send, partial(load_share, lake=lake, config=config), say, each)
        reports = _work_on(engine, lake, orders, send, say)
        moved = take_in(
            engine,
            campaign,
            deliveries,
            reports,
            state=found.state,
            where=lambda name: lake.engine_path(f"published/{name}"),
        )
        return report_load(engine, moved)


def _is_due(
    engine: "duckdb.DuckDBPyConnection", lake: Lake, campaign: Campaign, deliveries: Sequence[Delivery]
) -> bool:
    return is_news(engine, campaign, deliveries) or bool(_lost(engine, lake, known_files(engine)))


def _work_on(
    engine: "duckdb.DuckDBPyConnection",
    lake: Lake,
    orders: Sequence[Order],
    send: Callable[[Sequence[Order]], Iterator[ShareReport]],
    say: Say,
) -> list[ShareReport]:
    reports = {report.share: report for report in send(orders)}
    lost = _lost(engine, lake, set().union(*(report.names() for report in reports.values())))
    if lost:
        say(f"{len(lost)} parts are gone from {lake.url}/published; their shares write them again.")
        again = [
            replace(order, is_afresh=False, writes_all=True)
            for order in orders
            if reports[order.share.name].names() & lost
        ]
        reports |= {report.share: report for report in send(again)}
    # Noted before anything names them, so that nothing is left behind should this process end here.
    named, leaving = _known(lake)
    new = set().union(*({*report.names()} for report in reports.values())) - known_files(engine)
    new |= {name for report in reports.values() for name in report.written}
    if new - named:
        note_leaving(lake, leaving, sorted(new - named), datetime.now(UTC))
    return list(reports.values())


def _lost(engine: "duckdb.DuckDBPyConnection", lake: Lake, names: Collection[str]) -> set[str]:
    """Parts that are nowhere: neither the lake nor a note in it knows of them, and they are not there."""
    named, leaving = _known(lake)
    missing = missing_files(engine, names, named | leaving.since.keys())
    return {name for name in missing if not lake.exists(f"published/{name}")}


def _send(
    do: Callable[[Order], ShareReport], say: Say, each: Each, orders: Sequence[Order]
) -> Iterator[ShareReport]:
    for number, report in enumerate(each(do, orders), start=1):
        say(f"share {number} of {len(orders)}: {len(report.written)} parts in {report.seconds:.1f} s")
        yield report


def _known(lake: Lake) -> tuple[set[str], Leaving]:
    """What the current snapshot names, and what nothing names any more or not yet."""
    current = read_current(lake)
    return (current.names() if current else set()), read_leaving(lake)
