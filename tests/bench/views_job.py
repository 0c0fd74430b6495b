"""Asks one view of a published snapshot several times and tells how long each time took.

The library is that of this checkout, over the snapshot's tables. With a file of plain SQL, that is asked in
its stead. Writes the last answer as Parquet and prints one line of JSON: seconds and CPU seconds of each
time, rows, and the peak in MB.
"""

import json
import resource
import sys
import time
from pathlib import Path

import pyarrow.parquet as pq

from motelake.lake.store import Lake
from motelake.library import read_library
from motelake.steps.read import open_snapshot
from motelake.warehouse.asked import asked_of_warehouse

MEMORY, THREADS = "2GB", 2


def main(lake: str, asked: str, times: int, answer: str) -> None:
    """Asks and tells."""
    library = read_library()
    is_plain = asked.endswith(".sql")
    engine = open_snapshot(Lake.open(lake), memory=MEMORY, threads=THREADS)
    wall: list[float] = []
    cpu: list[float] = []
    with asked_of_warehouse(engine, library, library.questions(), keeps=False):
        if is_plain:
            query = Path(asked).read_text(encoding="utf-8")
        else:
            query = f"select * from {asked}" + ("()" if library.find(asked).kind == "macro" else "")
        for _ in range(times):
            begun, begun_cpu = time.perf_counter(), time.process_time()
            # By columns, as a notebook takes it: making rows of Python would be measured instead.
            table = engine.sql(query).to_arrow_table()
            wall.append(time.perf_counter() - begun)
            cpu.append(time.process_time() - begun_cpu)
    # Linux counts in kilobytes, macOS in bytes.
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    peak_mb = peak / (2**20 if sys.platform == "darwin" else 2**10)
    print(json.dumps({"wall_s": wall, "cpu_s": cpu, "rows": table.num_rows, "peak_mb": peak_mb}))
    pq.write_table(table, answer)


if __name__ == "__main__":
    main(sys.argv[1], sys.argv[2], int(sys.argv[3]), sys.argv[4])
