"""What gateways send beyond the register stays in raw/: all that a run writes or says is searched for it."""

import json
import os
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import duckdb

if TYPE_CHECKING:
    from tests.jobs.conftest import Place

PLANTED = ("Ada-Badge-0815", "02:00:5e:77:10:4a", "phone-of-a-visitor")
# Enough for the share of rejects to count: the object is held, and its verdict is among what is searched.
LINES_OF_EACH = 20


def strange_lines() -> Iterator[str]:
    """Lines that hold what is planted in every place where a line can hold something."""
    for seq in range(LINES_OF_EACH):
        for planted in PLANTED:
            at = f"2031-05-09T08:{seq:02}:00Z"
            burst = {"mote": "M1", "seq": seq, "received_at": at, "readings": {"temperature": 21.5}}
            yield json.dumps(burst | {"visitor": planted, "seen": [{"by": planted}], planted: 1})
            yield json.dumps(burst | {"readings": {"temperature": planted, "badge": planted}})
            yield json.dumps(burst | {"gateway": f"<b>{planted}</b>"})
            yield json.dumps(burst | {"battery_v": planted, "rssi_dbm": planted})
            yield json.dumps(burst | {"seq": planted})
            yield json.dumps(burst | {"received_at": planted})
            yield json.dumps(burst | {"mote": planted})
            yield json.dumps(burst | {"mote": planted.replace(":", "-")})
            yield f'{{"mote": "M1", {planted}'
            yield planted


def test_nothing_that_is_not_in_the_register_is_written_or_said_outside_raw(
    place: "Place", tmp_path: Path
) -> None:
    lake = Path(place.lake)
    (lake / "raw" / "strange.jsonl").write_text("\n".join(strange_lines()))
    (lake / "raw" / "strange.csv").write_text(
        "mote,received_at,measure,value,visitor\n"
        + "".join(f"M1,2031-05-09T09:00:00Z,{text},{text},{text}\n" for text in PLANTED)
        + "".join(f"{text},2031-05-09T09:00:00Z,temperature,21,{text}\n" for text in PLANTED)
    )
    (lake / "raw" / "strange.senml.json").write_text(
        json.dumps([{"n": f"{text}:temperature", "t": 1.9e9, "v": 1, "x": text} for text in PLANTED])
    )
    kept = {name: value for name, value in os.environ.items() if not name.startswith(("PREFECT", "MOTELAKE"))}
    done = subprocess.run(
        (sys.executable, "-c", "from motelake.cli import main; main()", "run", place.lake),
        env=kept | {"HOME": str(tmp_path), "PREFECT_HOME": str(tmp_path / "prefect")},
        capture_output=True,
        check=False,
        timeout=300,
    )
    assert done.returncode == 1, done.stderr.decode()
    assert b"strange.jsonl" in done.stdout
    written = [path for path in tmp_path.rglob("*") if path.is_file() and lake / "raw" not in path.parents]
    endings = {"".join(path.suffixes[-1:]) for path in written}
    assert {".parquet", ".json", ".duckdb", ".db", ".html"} <= endings
    assert any(path.parent.name == "validation" for path in written)
    said = {"stdout": done.stdout, "stderr": done.stderr}
    said |= {str(path.relative_to(tmp_path)): _content(path) + path.name.encode() for path in written}
    looked_for = {text.encode() for one in PLANTED for text in (one, one.replace(":", "-"))}
    assert [name for name, content in said.items() if any(text in content for text in looked_for)] == []


def _content(path: Path) -> bytes:
    """The bytes of a file, and its values as text where it holds them packed."""
    if path.suffix == ".parquet":
        return path.read_bytes() + _values(duckdb.connect(), f"read_parquet('{path}')")
    if path.suffix == ".duckdb":
        with duckdb.connect(str(path), read_only=True) as engine:
            tables = engine.execute(
                'select format(\'"{}"."{}"\', schema_name, table_name) from duckdb_tables()'
            ).fetchall()
            return path.read_bytes() + b"".join(_values(engine, table) for (table,) in tables)
    return path.read_bytes()


def _values(engine: duckdb.DuckDBPyConnection, relation: str) -> bytes:
    rows = engine.execute(f"select distinct unnest([columns(*)::varchar]) from {relation}").fetchall()
    return "\n".join(str(value) for row in rows for value in row).encode()
