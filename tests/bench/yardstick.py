"""How quick this machine is: a limit in seconds holds on the machine for which it was set."""

import time
from collections import Counter
from pathlib import Path

import duckdb

# 0.95 s for a day of 500 motes, 2.16 million lines (DuckDB 2.0.1, two cores): measured there, not here.
SET_FOR_S_PER_MILLION = 0.44
_READ = """
copy (
    select filename, mote, seq, gateway, received_at, rssi_dbm, battery_v, unnest(readings)
    from read_json($objects, format = 'newline_delimited', ignore_errors = true, filename = true, columns = {
        mote: 'VARCHAR', seq: 'BIGINT', gateway: 'VARCHAR', received_at: 'TIMESTAMPTZ',
        rssi_dbm: 'DOUBLE', battery_v: 'DOUBLE',
        readings: 'STRUCT(temperature DOUBLE, pressure DOUBLE, relative_humidity DOUBLE, sound DOUBLE,
                          light DOUBLE, footsteps DOUBLE, radio DOUBLE, air_quality DOUBLE)'
    })
) to '/dev/null' (format parquet, compression zstd)
"""


def yardstick(lake: Path) -> str:
    """A sentence on bare DuckDB packing this lake's fullest folder of JSON as Parquet. Few seem slow."""
    size: Counter[Path] = Counter()
    for file in (lake / "raw").rglob("*.jsonl.gz"):
        size[file.parent] += file.stat().st_size
    if not size:
        return "no packed JSON Lines below raw/ to tell by how quick this machine is"
    objects = str(size.most_common(1)[0][0] / "*.jsonl.gz")
    engine = duckdb.connect()
    spent_s = []
    for _ in range(3):
        begun = time.perf_counter()
        ((lines,),) = engine.execute(_READ, {"objects": objects}).fetchall()
        spent_s.append(time.perf_counter() - begun)
    s_per_million = min(spent_s) / lines * 1e6
    there = SET_FOR_S_PER_MILLION
    return (
        f"bare read_json to Parquet: {s_per_million:.2f} s a million lines (of {lines:,}), {there} on the "
        f"machine for which limits in seconds were set; a second there is {s_per_million / there:.1f} here"
    )
