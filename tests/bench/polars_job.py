"""The main job as somebody who knows Polars would write it.

Parse, dedupe, flags, minutes, one lagged correlation, by the same definitions as floor.sql. What others
will ask is kept as Parquet, a file a table, below out/published: the part publish tells what that costs.
"""

import gzip
import json
import sys
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import polars as pl
from parts import Parts

LAGS = range(-30, 31)
parts = Parts()


def main(lake: Path, starts_at: datetime, ends_at: datetime) -> dict[str, Any]:
    """Counts and correlations of one lake."""
    measures = pl.read_csv(lake / "register/measures.csv")
    names = measures["measure"].to_list()
    motes = pl.read_csv(lake / "register/motes.csv", columns=["mote", "zone"])
    with parts.part("load"):
        bursts = read_bursts(lake, names, motes, starts_at, ends_at)
        readings = flag(bursts, measures)
        minutes = mote_minutes(readings, measures)
        zones = zone_minutes(minutes, motes, measures)
    with parts.part("publish"):
        tables = {"burst": bursts, "reading": readings, "mote_minute": minutes, "zone_minute": zones}
        for name, table in tables.items():
            table.write_parquet(f"out/published/{name}.parquet", compression="zstd")
    with parts.part("ask"):
        correlations = correlate(zones)
    flags = dict(readings.group_by("flag").len().iter_rows())
    return {
        "bursts": len(bursts),
        "readings": len(readings),
        "suspect": flags.get(3, 0),
        "fail": flags.get(4, 0),
        "mote_minutes": len(minutes),
        "r": correlations,
    }


def read_bursts(
    lake: Path, names: list[str], motes: pl.DataFrame, starts_at: datetime, ends_at: datetime
) -> pl.DataFrame:
    """Bursts of known motes, each once, in the order of their motes and times."""
    schema: dict[str, pl.DataType | type[pl.DataType]] = {
        "mote": pl.String,
        "seq": pl.Int64,
        "gateway": pl.String,
        "received_at": pl.String,
        "rssi_dbm": pl.Float64,
        "battery_v": pl.Float64,
        "readings": pl.Struct(dict.fromkeys(names, pl.Float64)),
    }
    lines = pl.concat(read_file(file, schema) for file in sorted(lake.glob("raw/**/*.jsonl.gz")))
    return (
        lines.lazy()
        .filter(pl.col("readings").is_not_null())
        .unnest("readings")
        .with_columns(
            pl.col("received_at").str.to_datetime("%+", time_unit="us", time_zone="UTC", strict=False)
        )
        .filter(
            pl.col("mote").is_in(motes["mote"].implode()),
            pl.col("received_at") >= starts_at,
            pl.col("received_at") < ends_at + timedelta(hours=2),
        )
        .sort("received_at")
        .unique(["mote", "seq", "battery_v", *names], keep="first", maintain_order=True)
        .sort("mote", "received_at", "seq")
        .collect()
    )


def read_file(file: Path, schema: dict[str, pl.DataType | type[pl.DataType]]) -> pl.DataFrame:
    """The lines of one file that can be read.

    Polars stops at a line that is no JSON; where it did, such lines are sought out.
    """
    content = gzip.decompress(file.read_bytes())
    try:
        return pl.read_ndjson(content, schema=schema, ignore_errors=True)
    except pl.exceptions.ComputeError:
        lines = [line for line in content.splitlines() if is_json_object(line)]
        return pl.read_ndjson(b"\n".join(lines), schema=schema, ignore_errors=True)


def is_json_object(line: bytes) -> bool:
    """Whether a line is JSON, and an object."""
    try:
        return isinstance(json.loads(line), dict)
    except ValueError:
        return False


def flag(bursts: pl.DataFrame, measures: pl.DataFrame) -> pl.DataFrame:
    """Readings, one a row, with 4 for fail, 3 for suspect, 1 for pass."""
    seq = pl.col("seq")
    bursts = bursts.with_columns(
        periods_before=seq - seq.shift(1).over("mote"), periods_after=seq.shift(-1).over("mote") - seq
    )
    return pl.concat(flag_measure(bursts, row) for row in measures.iter_rows(named=True))


def flag_measure(bursts: pl.DataFrame, measure: dict[str, float | str | None]) -> pl.DataFrame:
    """The readings of one measure."""
    value = pl.col("value")
    before, after = value.shift(1).over("mote"), value.shift(-1).over("mote")
    step, flat = measure["max_step"], measure["flat_after_min"]
    course = bursts.select(
        "mote", "received_at", "periods_before", "periods_after", value=pl.col(str(measure["measure"]))
    )
    never = pl.lit(False)
    jumps = spikes = never
    if step is not None:
        periods_before, periods_after = pl.col("periods_before"), pl.col("periods_after")
        jumps = (periods_before == 1) & ((value - before).abs() > step)
        spikes = (
            periods_before.is_between(1, 4)
            & periods_after.is_between(1, 4)
            & ((value - before).abs() > periods_before * step)
            & ((value - after).abs() > periods_after * step)
            & ((value - before) * (value - after) > 0)
        )
    course = course.with_columns(
        is_jump=jumps.fill_null(False),
        is_spike=spikes.fill_null(False),
        run=value.ne_missing(before).cum_sum(),
    )
    lasts = pl.col("received_at").max() - pl.col("received_at").min()
    flats = never if flat is None else lasts.over("mote", "run") > timedelta(minutes=float(flat))
    fails = outside(value, measure["span_low"], measure["span_high"]) | pl.col("is_spike")
    doubts = outside(value, measure["usual_low"], measure["usual_high"]) | pl.col("is_jump") | flats
    return course.filter(value.is_not_null()).select(
        "mote",
        "received_at",
        "value",
        measure=pl.lit(measure["measure"]),
        flag=pl.when(fails).then(4).when(doubts).then(3).otherwise(1),
    )


def outside(value: pl.Expr, low: float | str | None, high: float | str | None) -> pl.Expr:
    """Whether a value lies outside bounds, of which each may be missing."""
    is_outside = pl.lit(False)
    if low is not None:
        is_outside = is_outside | (value < low)
    return is_outside if high is None else is_outside | (value > high)


def mote_minutes(readings: pl.DataFrame, measures: pl.DataFrame) -> pl.DataFrame:
    """Minutes of each mote and measure, without doubtful readings."""
    value = pl.col("value")
    kinds = pl.col("measure").replace_strict(measures["measure"], measures["kind"]).alias("kind")
    return (
        readings.lazy()
        .filter(pl.col("flag") < 3)
        .group_by("mote", "measure", pl.col("received_at").dt.truncate("1m").alias("minute_at"))
        .agg(
            n=pl.len(),
            low=value.min(),
            high=value.max(),
            total=value.sum(),
            mean=value.mean(),
            power=(10 ** (value / 10)).mean(),
        )
        .with_columns(kinds)
        .with_columns(
            value=pl.when(pl.col("kind") == "decibel")
            .then(10 * pl.col("power").log10())
            .when(pl.col("kind") == "count")
            .then("total")
            .otherwise("mean")
        )
        .collect()
    )


def zone_minutes(minutes: pl.DataFrame, motes: pl.DataFrame, measures: pl.DataFrame) -> pl.DataFrame:
    """Minutes of each zone and measure."""
    value = pl.col("value")
    return (
        minutes.lazy()
        .join(motes.lazy(), on="mote")
        .group_by("zone", "measure", "minute_at", "kind")
        .agg(motes=pl.len(), mean=value.mean(), power=(10 ** (value / 10)).mean())
        .with_columns(
            value=pl.when(pl.col("kind") == "decibel").then(10 * pl.col("power").log10()).otherwise("mean")
        )
        .collect()
    )


def correlate(zones: pl.DataFrame) -> list[float]:
    """r of footsteps and air quality in one zone, for each lag in minutes."""
    at = zones.filter(pl.col("zone") == "track-entrance").select("measure", "minute_at", "value")
    steps = at.filter(pl.col("measure") == "footsteps")
    air = at.filter(pl.col("measure") == "air_quality")
    found = []
    for lag in LAGS:
        later = steps.with_columns(pl.col("minute_at") + timedelta(minutes=lag))
        both = later.join(air, on="minute_at", suffix="_b")
        found.append(both.select(pl.corr("value", "value_b")).item())
    return found


if __name__ == "__main__":
    times = [datetime.fromisoformat(text) for text in sys.argv[2:4]]
    parts.tell(main(Path(sys.argv[1]), *times))
