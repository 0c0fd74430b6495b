"""What it costs to load five minutes of new bursts beside what a warehouse holds already.

The new bursts are the last five minutes of every mote once more, later by so much and numbered on. They go
into a copy of the warehouse; the lake is only read.
"""

import time
from dataclasses import replace
from datetime import timedelta
from pathlib import Path
from shutil import copyfile
from statistics import median
from tempfile import TemporaryDirectory

import duckdb

from motelake.config import read_config
from motelake.core.campaign import Campaign
from motelake.core.manifests import Lines, Manifest, StagedObject, StagingInputs
from motelake.lake.store import Lake
from motelake.steps import campaign
from motelake.warehouse.load import Delivery, Judged, load_deliveries
from motelake.warehouse.store import open_warehouse

STEP = timedelta(minutes=5)
_BURSTS = """
copy (
    select
        $object as object, row_number() over () as line, mote, seq + $turn * (300000000 // period_us) as seq,
        gateway, received_at + $turn * interval 5 minute as received_at, rssi_dbm, battery_v,
        columns('^reading_')
    from work.hearing
    join work.mote_period using (mote)
    where batch < 1000000 and received_at > (
        select max(received_at) - interval 5 minute from work.hearing where batch < 1000000
    )
) to '{file}'
"""


def time_increments(url: str, rounds: int) -> list[str]:
    """A line a run, and their median, in CPU seconds of all threads; of a lake that is loaded."""
    lake, config = Lake.at(url), read_config(url)
    plan = campaign.read(lake)
    lines, spent = [], []
    with TemporaryDirectory(prefix="motelake-bench-") as folder:
        copy = Path(folder) / "warehouse.duckdb"
        copyfile(config.warehouse, copy)
        with open_warehouse(replace(config, warehouse=copy)) as engine:
            for turn in range(1, rounds + 1):
                delivery, hearings = _deliver(engine, plan, turn, Path(folder))
                begun = time.process_time()
                load_deliveries(engine, plan, [delivery], lambda _: None, {})
                spent.append(time.process_time() - begun)
                lines.append(f"run {turn}: {hearings:,} hearings, {spent[-1]:.2f} CPU s")
            (bursts,) = engine.execute("select count(*) from burst").fetchall()[0]
    return [*lines, f"median beside {bursts:,} bursts: {median(spent):.2f} CPU s"]


def _deliver(
    engine: duckdb.DuckDBPyConnection, plan: Campaign, turn: int, folder: Path
) -> tuple[Delivery, int]:
    name, file = f"raw/increment-{turn}.jsonl", folder / f"{turn}.parquet"
    text = _BURSTS.format(file=file)
    (hearings,) = engine.execute(text, {"object": name, "turn": turn}).fetchall()[0]
    staged = StagedObject(name, 1, None, name, Lines(hearings, hearings, 0))
    inputs = StagingInputs(1, plan.starts_at, plan.ends_at, 120, 1, 1, {}, ())
    manifest = Manifest(1_000_000 + turn, name, None, plan.starts_at, inputs, [staged], [str(file)])
    return Delivery(manifest, [Judged(staged, "loaded")], lambda: [str(file)], []), hearings
