"""Loading into the warehouse what passed the gate or was admitted, and taking out what no longer counts."""

from pathlib import Path
from tempfile import TemporaryDirectory

from motelake.config import Config
from motelake.core.campaign import Campaign
from motelake.core.sentences import Say
from motelake.core.verdicts import judging_hash
from motelake.engine import told_surroundings
from motelake.lake.records import read_decisions
from motelake.lake.store import Lake
from motelake.steps.deliveries import find_deliveries
from motelake.steps.each import Each, in_turn
from motelake.steps.load_shares import load_by_shares
from motelake.steps.loaded import LoadReport, report_load
from motelake.warehouse.load import load_deliveries
from motelake.warehouse.shares import refuse_other_keeping
from motelake.warehouse.store import open_warehouse, told_how_to_mend

__all__ = ["LoadReport", "load"]


def load(
    lake: Lake,
    campaign: Campaign,
    config: Config,
    say: Say,
    *,
    each: Each = in_turn,
    is_afresh: bool = False,
) -> LoadReport:
    """Brings the warehouse up to the lake, batch by batch in whole transactions.

    Where a Dask cluster is configured it is loaded by shares, and each says where they are worked on;
    is_afresh throws away what shares keep. Raises LockedError where another process is at work in the
    warehouse, InputError where the warehouse was made from another lake.
    """
    if config.dask:
        return load_by_shares(lake, campaign, config, say, each, is_afresh=is_afresh)
    with (
        told_how_to_mend(config),
        told_surroundings("Loading"),
        open_warehouse(config) as engine,
        TemporaryDirectory(prefix="motelake-load-", dir=config.work_folder) as work,
    ):
        refuse_other_keeping(engine, config.lake, is_by_shares=False)
        found = find_deliveries(
            engine, lake, config, read_decisions(lake), judged_with=judging_hash(campaign), work=Path(work)
        )
        moved = load_deliveries(engine, campaign, found.each, say, state=found.state)
        return report_load(engine, moved)
