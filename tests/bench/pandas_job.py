"""The main job as somebody who knows pandas would write it.

Parse, dedupe, flags, minutes, one lagged correlation, by the same definitions as floor.sql. What others
will ask is kept as Parquet, a file a table, below out/published: the part publish tells what that costs.
"""

import gzip
import json
import sys
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
from parts import Parts

LAGS = range(-30, 31)
parts = Parts()
FIELDS = ["mote", "seq", "gateway", "received_at", "rssi_dbm", "battery_v"]


def main(lake: Path, starts_at: datetime, ends_at: datetime) -> dict[str, Any]:
    """Counts and correlations of one lake."""
    measures = pd.read_csv(lake / "register/measures.csv")
    motes = pd.read_csv(lake / "register/motes.csv", usecols=["mote", "zone"])
    names = list(measures["measure"])
    with parts.part("load"):
        bursts = read_bursts(lake, names, motes, starts_at, ends_at)
        readings = flag(bursts, measures)
        minutes = mote_minutes(readings, measures)
        zones = zone_minutes(minutes, motes)
    with parts.part("publish"):
        tables = {"burst": bursts, "reading": readings, "mote_minute": minutes, "zone_minute": zones}
        for name, table in tables.items():
            table.to_parquet(f"out/published/{name}.parquet", compression="zstd", index=False)
    with parts.part("ask"):
        correlations = correlate(zones)
    return {
        "bursts": len(bursts),
        "readings": len(readings),
        "suspect": int((readings["flag"] == 3).sum()),
        "fail": int((readings["flag"] == 4).sum()),
        "mote_minutes": len(minutes),
        "r": correlations,
    }


def read_bursts(
    lake: Path, names: list[str], motes: pd.DataFrame, starts_at: datetime, ends_at: datetime
) -> pd.DataFrame:
    """Bursts of known motes, each once, in the order of their motes and times."""
    files = sorted(lake.glob("raw/**/*.jsonl.gz"))
    bursts = pd.concat([read_file(file, names) for file in files], ignore_index=True)
    at = pd.to_datetime(bursts["received_at"], format="ISO8601", utc=True, errors="coerce")
    bursts["received_at"] = at
    is_inside = (at >= starts_at) & (at < ends_at + timedelta(hours=2))
    bursts = bursts[is_inside & bursts["mote"].isin(motes["mote"])].sort_values("received_at")
    bursts = bursts.drop_duplicates(["mote", "seq", "battery_v", *names])
    bursts["mote"] = bursts["mote"].astype("category")
    return bursts.sort_values(["mote", "received_at", "seq"], ignore_index=True)


def read_file(file: Path, names: list[str]) -> pd.DataFrame:
    """The lines of one file that can be read; a reading that is no number is missing."""
    rows = []
    with gzip.open(file, "rb") as lines:
        for line in lines:
            try:
                burst = json.loads(line)
                rows.append(
                    [burst.get(name) for name in FIELDS] + [burst["readings"].get(name) for name in names]
                )
            except (ValueError, TypeError, AttributeError, KeyError):
                continue
    frame = pd.DataFrame(rows, columns=[*FIELDS, *names])
    for name in ["seq", "rssi_dbm", "battery_v", *names]:
        frame[name] = pd.to_numeric(frame[name], errors="coerce").astype(float)
    return frame


def flag(bursts: pd.DataFrame, measures: pd.DataFrame) -> pd.DataFrame:
    """Readings, one a row, with 4 for fail, 3 for suspect, 1 for pass."""
    motes, seq = bursts["mote"].cat.codes, bursts["seq"]
    is_same = (motes == motes.shift(1)).to_numpy()
    before = (seq - seq.shift(1)).where(is_same)
    after = before.shift(-1)
    parts = [flag_measure(bursts, measure, is_same, before, after) for _, measure in measures.iterrows()]
    readings = pd.concat(parts, ignore_index=True)
    readings["measure"] = readings["measure"].astype("category")
    return readings


def flag_measure(
    bursts: pd.DataFrame,
    measure: pd.Series,
    is_same: np.ndarray,
    periods_before: pd.Series,
    periods_after: pd.Series,
) -> pd.DataFrame:
    """The readings of one measure."""
    value = bursts[measure["measure"]]
    up, back = value - value.shift(1), value - value.shift(-1)
    is_jump = (periods_before == 1) & (up.abs() > measure["max_step"])
    is_spike = (
        periods_before.between(1, 4)
        & periods_after.between(1, 4)
        & (up.abs() > periods_before * measure["max_step"])
        & (back.abs() > periods_after * measure["max_step"])
        & (up * back > 0)
    )
    is_beginning = ~is_same | (value.ne(value.shift(1)) & ~(value.isna() & value.shift(1).isna()))
    times = bursts["received_at"].groupby(is_beginning.cumsum())
    lasts = times.transform("last") - times.transform("first")
    is_flat = (
        lasts > pd.Timedelta(minutes=measure["flat_after_min"]) if measure["flat_after_min"] > 0 else False
    )
    fails = (value < measure["span_low"]) | (value > measure["span_high"]) | is_spike
    doubts = (value < measure["usual_low"]) | (value > measure["usual_high"]) | is_jump | is_flat
    course = bursts[["mote", "received_at"]].assign(
        value=value, measure=measure["measure"], flag=np.select([fails, doubts], [4, 3], 1).astype(np.int8)
    )
    return course.dropna(subset=["value"])


def mote_minutes(readings: pd.DataFrame, measures: pd.DataFrame) -> pd.DataFrame:
    """Minutes of each mote and measure, without doubtful readings."""
    good = readings[readings["flag"] < 3].copy()
    kinds = measures.set_index("measure")["kind"]
    good["minute_at"] = good["received_at"].dt.floor("min")
    good["power"] = 10 ** (good["value"] / 10)
    minutes = (
        good.groupby(["mote", "measure", "minute_at"], observed=True, sort=False)
        .agg(
            n=("value", "size"),
            low=("value", "min"),
            high=("value", "max"),
            total=("value", "sum"),
            mean=("value", "mean"),
            power=("power", "mean"),
        )
        .reset_index()
    )
    minutes["kind"] = minutes["measure"].map(kinds).astype(str)
    is_decibel, is_count = minutes["kind"] == "decibel", minutes["kind"] == "count"
    minutes["value"] = np.select(
        [is_decibel, is_count], [10 * np.log10(minutes["power"]), minutes["total"]], minutes["mean"]
    )
    return minutes


def zone_minutes(minutes: pd.DataFrame, motes: pd.DataFrame) -> pd.DataFrame:
    """Minutes of each zone and measure."""
    placed = minutes.assign(zone=minutes["mote"].astype(str).map(motes.set_index("mote")["zone"]))
    placed["power"] = 10 ** (placed["value"] / 10)
    zones = (
        placed.groupby(["zone", "measure", "minute_at"], observed=True)
        .agg(motes=("value", "size"), mean=("value", "mean"), power=("power", "mean"), kind=("kind", "first"))
        .reset_index()
    )
    zones["value"] = np.where(zones["kind"] == "decibel", 10 * np.log10(zones["power"]), zones["mean"])
    return zones


def correlate(zones: pd.DataFrame) -> list[float]:
    """r of footsteps and air quality in one zone, for each lag in minutes."""
    at = zones[zones["zone"] == "track-entrance"]
    steps = at[at["measure"] == "footsteps"].set_index("minute_at")["value"]
    air = at[at["measure"] == "air_quality"].set_index("minute_at")["value"]
    found = []
    for lag in LAGS:
        later = steps.shift(freq=pd.Timedelta(minutes=lag))
        found.append(later.corr(air))
    return found


if __name__ == "__main__":
    times = [datetime.fromisoformat(text) for text in sys.argv[2:4]]
    parts.tell(main(Path(sys.argv[1]), *times))
