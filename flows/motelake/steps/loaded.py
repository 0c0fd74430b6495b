"""What a load did, whichever way it was done."""

from dataclasses import dataclass
from typing import TYPE_CHECKING

from motelake.steps.report import Report

if TYPE_CHECKING:
    import duckdb


@dataclass(frozen=True)
class LoadReport(Report):
    """What a load did: raw objects moved in or out, and the warehouse afterwards."""

    objects_moved: int
    bursts: int
    readings: int
    held: tuple[str, ...]

    @property
    def needs_attention(self) -> bool:
        """True where an object waits for a decision."""
        return bool(self.held)


def report_load(engine: "duckdb.DuckDBPyConnection", moved: int) -> LoadReport:
    """The report of a load that moved so many objects, of a warehouse as it is now."""
    bursts, readings = engine.execute(
        "select (select count(*) from burst), (select count(*) from reading)"
    ).fetchall()[0]
    held = engine.execute("select object from raw_object where state = 'held' order by object").fetchall()
    return LoadReport(moved, bursts, readings, tuple(name for (name,) in held))
