"""A reader in a process of its own, which opens what is published again and again and says what it met.

Called with the lake's URL, a file that ends it once it is there, and how many questions it asks of a snapshot
(0: all). Written for each snapshot it opened: a line of JSON with the ids it may have and its fingerprint.
Any fault ends it with a traceback.
"""

import io
import json
import os
import sys
import time
from contextlib import closing
from itertools import cycle, islice
from pathlib import Path

import pyarrow.parquet as pq

from motelake.lake.store import Lake
from motelake.library import call, read_library
from motelake.steps.read import find_current, open_snapshot
from motelake.warehouse.fingerprint import fingerprint
from motelake.warehouse.sandbox import answer

# Between two snapshots the writer, with which readers share the machine, gets on.
PAUSE_S = 0.5


def read_until(lake: Lake, end: Path, at_once: int) -> None:
    library = read_library()
    questions = [
        entry
        for entry in library.questions()
        if not any(parameter.is_required for parameter in entry.parameters)
    ]
    turn = cycle(questions)
    while not end.exists():
        before = find_current(lake).id
        with closing(open_snapshot(lake)) as snapshot:
            after = find_current(lake).id
            for entry in islice(turn, at_once or len(questions)):
                answer(snapshot, *call(entry, {}, {}))
            content = fingerprint(snapshot)
        # A dashboard reads answers by their stable names while they are replaced.
        listed = json.loads(lake.read("published/answers.json"))["answers"]
        for one in listed:
            pq.read_table(io.BytesIO(lake.read(f"published/{one['file']}")))
        # Where a publish came between the two looks, either may have been opened.
        print(json.dumps({"may_be": [before, after], "content": content, "of": len(questions)}), flush=True)
        time.sleep(PAUSE_S)


if __name__ == "__main__":
    # Many of them share a small machine with one writer, which is to get on.
    os.nice(10)
    read_until(Lake.open(sys.argv[1]), Path(sys.argv[2]), int(sys.argv[3]))
