"""Making the warehouse again from the lake: it holds nothing that the lake does not."""

from contextlib import suppress
from dataclasses import replace

from motelake.config import Config
from motelake.core.campaign import Campaign
from motelake.core.sentences import Say
from motelake.engine import open_engine
from motelake.errors import DamagedError
from motelake.lake.store import Lake
from motelake.steps.each import Each, in_turn
from motelake.steps.load import LoadReport, load
from motelake.warehouse.store import remove_warehouse


def rebuild(lake: Lake, campaign: Campaign, config: Config, say: Say, *, each: Each = in_turn) -> LoadReport:
    """Loads all that is staged into a new warehouse beside the old one, which it replaces once it is whole.

    Raises LockedError where another process is at work in the old one; stopped midway, the old one stays.
    """
    if config.warehouse.exists():
        # Whoever holds the old file would go on writing to what nobody reads any more. One that is damaged
        # is what this call is for.
        with suppress(DamagedError):
            open_engine(config.warehouse).close()
    beside = replace(config, warehouse=config.warehouse.with_name(config.warehouse.name + ".rebuild.duckdb"))
    remove_warehouse(beside.warehouse)
    report = load(lake, campaign, beside, say, each=each, is_afresh=True)
    remove_warehouse(config.warehouse)
    beside.warehouse.replace(config.warehouse)
    return report
