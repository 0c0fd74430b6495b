"""The record of the work: batches, raw objects and rejects, written in the transaction that loads them."""

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, NamedTuple

import duckdb
import pyarrow as pa

from motelake.core.manifests import Manifest
from motelake.warehouse.statements import execute, literal

if TYPE_CHECKING:
    from motelake.warehouse.load import Judged


_TEXTS, _COUNTS = (
    ("object", "sha256", "state", "verdict"),
    ("batch", "size_bytes", "read", "staged", "duplicates", "rejected", "reading_rejects"),
)
_OBJECT_SCHEMA = pa.schema(
    [(name, pa.string()) for name in _TEXTS] + [(name, pa.int64()) for name in _COUNTS]
)


class Recorded(NamedTuple):
    """What the warehouse knows of a raw object."""

    batch: int
    state: str
    sha256: str
    verdict: str | None


def read_objects(engine: duckdb.DuckDBPyConnection) -> dict[str, Recorded]:
    """Every raw object on record, by name."""
    rows = engine.execute("select object, batch, state, sha256, verdict from raw_object").fetchall()
    return {name: Recorded(*known) for name, *known in rows}


def forget_objects(engine: duckdb.DuckDBPyConnection, objects: Sequence[str]) -> None:
    """Takes raw objects and their rejects off the record, before they are recorded again."""
    for table in ("raw_object", "reject"):
        engine.execute(
            f"delete from {table} where object in (select unnest($objects))", {"objects": list(objects)}
        )


def record_manifest(
    engine: duckdb.DuckDBPyConnection,
    manifest: Manifest,
    objects: "Sequence[Judged]",
    reject_files: Sequence[str],
) -> Mapping[str, Recorded]:
    """Puts a manifest and its raw objects on record; returns what was recorded, by name.

    Counts of staged and duplicate lines are settled later, once the bursts are known.
    """
    number = manifest.number
    engine.execute("delete from batch where batch = $number", {"number": number})
    engine.execute(
        "insert into batch by name select $number as batch, $id as id, $objects as objects, "
        "'loaded' as state, 0 as read, 0 as parsed, 0 as rejected, $made_at as made_at, now() as loaded_at",
        {"number": number, "id": manifest.id, "objects": len(manifest.objects), "made_at": manifest.made_at},
    )
    incoming = pa.Table.from_pylist([_row(number, judged) for judged in objects], schema=_OBJECT_SCHEMA)
    engine.register("incoming", incoming)
    engine.execute("insert into raw_object by name select * from incoming")
    engine.unregister("incoming")
    if reject_files:
        files = ", ".join(literal(file) for file in reject_files)
        engine.execute(
            f"insert into reject by name select * from read_parquet([{files}], union_by_name = true) "
            "where object in (select unnest($objects))",
            {"objects": [judged.staged.name for judged in objects]},
        )
    return {judged.staged.name: recorded(number, judged) for judged in objects}


def recorded(batch: int, judged: "Judged") -> Recorded:
    """What the record of a judged raw object says once it is written."""
    return Recorded(batch, judged.state, judged.staged.sha256, judged.verdict)


def _row(number: int, judged: "Judged") -> dict[str, object]:
    staged = judged.staged
    return {
        "object": staged.name,
        "batch": number,
        "sha256": staged.sha256,
        "size_bytes": staged.size,
        "state": judged.state,
        "read": staged.lines.read,
        "staged": staged.lines.parsed,
        "duplicates": 0,
        "rejected": staged.lines.rejected,
        "reading_rejects": staged.reading_rejects,
        "verdict": judged.verdict,
    }


def settle_record(engine: duckdb.DuckDBPyConnection) -> None:
    """Brings the counts of duplicates and the states of batches up to what is loaded."""
    execute(engine, "derive/70_settle_objects")
    execute(engine, "derive/71_settle_batches")
