"""The same readings under every name: one relation comes out of all formats, and memory stays bounded."""

import gzip
import json
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
import zstandard

from motelake.formats.objects import KNOWN_ENDINGS, split_ending

ROOT = Path(__file__).parents[2]
# Who measured what when; the second stamp is one and a half minutes later.
BURSTS = [
    ("M1", 1936076403.25, {"temperature": 21.4, "sound": 58.2}),
    ("pit:7", 1936076403.25, {"air_pressure": 1013.25}),
    ("M1", 1936076493.5, {"temperature": -3.0, "sound": 0.0}),
]
UNITS = {"temperature": "Cel", "sound": "dB", "air_pressure": "hPa"}
STAMPS = {1936076403.25: "2031-05-09T07:00:03.250Z", 1936076493.5: "2031-05-09T08:01:33.5+01:00"}
PACK: dict[str, Callable[[bytes], bytes]] = {"": bytes, ".gz": gzip.compress, ".zst": zstandard.compress}


def as_json_lines() -> str:
    return "\n".join(
        json.dumps({"mote": mote, "received_at": STAMPS[at], "readings": readings})
        for mote, at, readings in BURSTS
    )


def as_senml() -> str:
    return json.dumps(
        [
            {"n": f"{mote}:{measure}", "t": at, "u": UNITS[measure], "v": value}
            for mote, at, readings in BURSTS
            for measure, value in readings.items()
        ]
    )


def as_csv() -> str:
    rows = [
        f"{mote},{STAMPS[at]},{measure},{value}"
        for mote, at, readings in BURSTS
        for measure, value in readings.items()
    ]
    return "\n".join(["mote,received_at,measure,value", *rows])


WRITTEN = {".jsonl": as_json_lines, ".senml.json": as_senml, ".csv": as_csv}


@pytest.mark.parametrize("ending", KNOWN_ENDINGS)
def test_all_formats_give_one_relation(read: Any, ending: str) -> None:
    kind, compression = split_ending(f"raw/a{ending}")
    outcome = read(PACK[compression](WRITTEN[kind]().encode()), name=f"raw/a{ending}")
    plain = read(as_json_lines().encode())
    assert outcome.line_rejects == outcome.reading_rejects == []
    assert [list(row) for row in outcome.hearings[:1]] == [list(row) for row in plain.hearings[:1]]
    assert united(outcome.hearings) == united(plain.hearings)
    assert len(united(plain.hearings)) == sum(len(readings) for *_, readings in BURSTS)


def united(hearings: list[dict[str, Any]]) -> set[tuple[Any, ...]]:
    """Every reading with all that is said of its burst; how many lines it took does not count."""
    beside = ("mote", "seq", "gateway", "received_at", "rssi_dbm", "battery_v")
    return {
        (*(row[field] for field in beside), measure, row[measure])
        for row in hearings
        for measure in row.keys() - {"object", "line", *beside}
        if row[measure] is not None
    }


MEASURED = """
import io, resource, sys, zlib
from dataclasses import replace
from motelake.formats.objects import RawObject, parse_objects
from motelake.formats.staging import Staging
from tests.formats.conftest import PLAN, open_engine

def unpacked(megabytes):
    pack = zlib.compressobj(1, wbits=31)
    packed = b"".join(pack.compress(sys.argv[2].encode() * 2**20) for _ in range(megabytes)) + pack.flush()
    plan = replace(PLAN, bytes_per_object=2**40)
    with Staging(open_engine(threads=1), plan) as staging:
        account = parse_objects([RawObject("raw/a" + sys.argv[1], lambda: io.BytesIO(packed))], staging)
    assert account["raw/a" + sys.argv[1]].lines_rejected >= 1
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024

few = unpacked(20)
print(unpacked(400) - few)
"""


@pytest.mark.parametrize(
    ("ending", "filling"),
    [(".jsonl.gz", "x"), (".csv.gz", '"'), (".senml.json.gz", "x"), (".senml.json.gz", '"')],
)
def test_memory_does_not_grow_with_what_an_endless_line_unpacks_to(ending: str, filling: str) -> None:
    command = [sys.executable, "-c", MEASURED, ending, filling]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    assert float(done.stdout) < 40, "megabytes more for 380 more"
