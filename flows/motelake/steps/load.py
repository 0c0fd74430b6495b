"""Loading into the warehouse what passed the gate or was admitted, and taking out what no longer counts."""

from collections.abc import Callable
from dataclasses import asdict, dataclass
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING, Any

from motelake.config import Config
from motelake.core.campaign import Campaign
from motelake.core.verdicts import judging_hash
from motelake.engine import told_surroundings
from motelake.lake.records import read_decisions
from motelake.lake.store import Lake
from motelake.steps.deliveries import find_deliveries
from motelake.warehouse.load import load_deliveries
from motelake.warehouse.store import open_warehouse

if TYPE_CHECKING:
    import duckdb


@dataclass(frozen=True)
class LoadReport:
    """What a load did: raw objects moved in or out, and the warehouse afterwards."""

    objects_moved: int
    bursts: int
    readings: int
    held: tuple[str, ...]

    @property
    def needs_attention(self) -> bool:
        """True where an object waits for a decision."""
        return bool(self.held)

    def to_dict(self) -> dict[str, Any]:
        """The report for programs."""
        return asdict(self) | {"needs_attention": self.needs_attention}


def load(lake: Lake, campaign: Campaign, config: Config, say: Callable[[str], None]) -> LoadReport:
    """Brings the warehouse up to the lake: all of it in one transaction, or none.

    Raises LockedError where another process is at work in the warehouse, InputError where the warehouse was
    made from another lake.
    """
    with (
        told_surroundings("Loading"),
        open_warehouse(config) as engine,
        TemporaryDirectory(prefix="motelake-load-", dir=config.work_folder) as work,
    ):
        found = find_deliveries(
            engine, lake, config, read_decisions(lake), judged_with=judging_hash(campaign), work=Path(work)
        )
        moved = load_deliveries(engine, campaign, found.each, say, state=found.state)
        return _report(engine, moved)


def _report(engine: "duckdb.DuckDBPyConnection", moved: int) -> LoadReport:
    bursts, readings = engine.execute(
        "select (select count(*) from burst), (select count(*) from reading)"
    ).fetchall()[0]
    held = engine.execute("select object from raw_object where state = 'held' order by object").fetchall()
    return LoadReport(moved, bursts, readings, tuple(name for (name,) in held))
