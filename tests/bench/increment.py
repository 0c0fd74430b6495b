"""What a scheduled run costs that finds five minutes of new bursts in a lake with a history.

The new bursts are the last five minutes of every mote once more, later by so much and numbered on, delivered
as one raw object a gateway. They go into a copy of lake and warehouse; the lake itself is only read.
"""

import gzip
import json
import os
from collections import defaultdict
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from shutil import copyfile, copytree
from statistics import median
from typing import Any

import duckdb

from motelake.config import default_warehouse

STEP = timedelta(minutes=5)
STEPS = ("start", "stage", "check", "load", "publish")
_LAST = """
select hearing.*, 300000000 // period_us as bursts
from work.hearing
join work.mote_period as period using (mote)
where received_at > (select max(received_at) - $step from work.hearing)
"""

Run = Callable[[Path], Mapping[str, Any]]


@dataclass(frozen=True)
class Copy:
    """A lake and its warehouse to work in, and the last five minutes that were heard there."""

    lake: Path
    last: list[dict[str, Any]]
    bursts: int

    def deliver(self, turn: int) -> int:
        """Puts five more minutes below raw/; returns their lines."""
        lines = defaultdict(list)
        for row in self.last:
            lines[row["gateway"]].append(json.dumps(_later(row, turn)))
        for gateway, some in lines.items():
            file = self.lake / "raw" / "increment" / f"{turn:03}-{gateway}.jsonl.gz"
            file.parent.mkdir(exist_ok=True)
            file.write_bytes(gzip.compress("\n".join(some).encode() + b"\n"))
        return len(self.last)


def copy_lake(lake: Path, folder: Path) -> Copy:
    """A copy in this folder; its page is of this hour, so that none is due."""
    # Hard links: what motelake writes anew it puts in place of the old, never into it.
    copy = copytree(lake, folder / "lake", copy_function=os.link)
    page = copy / "published" / "page.json"
    said = json.loads(page.read_text()) | {"made_at": datetime.now(UTC).isoformat()}
    page.unlink()
    page.write_text(json.dumps(said))
    copyfile(default_warehouse(str(lake), {}), default_warehouse(str(copy), {}))
    with duckdb.connect(str(default_warehouse(str(copy), {})), read_only=True) as engine:
        engine.execute("set TimeZone = 'UTC'")
        last = engine.execute(_LAST, {"step": STEP})
        names = [column[0] for column in last.description]
        rows = [dict(zip(names, row, strict=True)) for row in last.fetchall()]
        (bursts,) = engine.execute("select count(*) from burst").fetchall()[0]
    return Copy(copy, rows, bursts)


def time_increments(copies: list[Copy], rounds: int, run: Run) -> Iterator[str]:
    """A line a run, the copies in turns; then the medians of each, and how many times those of the first.

    run runs what is new in a copy and gives CPU and wall seconds by step.
    """
    spent: list[list[Mapping[str, Any]]] = [[] for _ in copies]
    for turn in range(1, rounds + 1):
        for copy, of_copy in zip(copies, spent, strict=True):
            lines = copy.deliver(turn)
            of_copy.append(run(copy.lake))
            yield f"{turn:2} {copy.bursts:12,} bursts before, {lines:6,} lines new: {_told(of_copy[-1:])}"
    first = _sums(spent[0])
    for copy, of_copy in zip(copies, spent, strict=True):
        ratio = _sums(of_copy)["cpu_s"] / first["cpu_s"]
        yield f"median {copy.bursts:12,} bursts before: {_told(of_copy)}, {ratio:.2f} x the first"


def _later(row: Mapping[str, Any], turn: int) -> dict[str, Any]:
    burst = {"gateway": row["gateway"], "mote": row["mote"], "rssi_dbm": row["rssi_dbm"]}
    if row["seq"] is not None:
        burst["seq"] = row["seq"] + turn * row["bursts"]
    readings = {
        name.removeprefix("reading_"): value
        for name, value in row.items()
        if name.startswith("reading_") and value is not None
    }
    at = (row["received_at"] + turn * STEP).isoformat()
    return burst | {"battery_v": row["battery_v"], "received_at": at, "readings": readings}


def _told(runs: list[Mapping[str, Any]]) -> str:
    steps = ", ".join(f"{step} {_median(runs, step, 'cpu_s'):.2f}" for step in STEPS)
    sums = _sums(runs)
    return f"{steps}; in all {sums['cpu_s']:.2f} CPU s, {sums['wall_s']:.2f} s"


def _sums(runs: list[Mapping[str, Any]]) -> dict[str, float]:
    return {
        unit: median(sum(run[step][unit] for step in STEPS) for run in runs) for unit in ("cpu_s", "wall_s")
    }


def _median(runs: list[Mapping[str, Any]], step: str, unit: str) -> float:
    return float(median(run[step][unit] for run in runs))
