"""The record of the work: batches, raw objects and rejects, written in the transaction that loads them."""

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, NamedTuple

import duckdb

from motelake.core.manifests import Manifest
from motelake.warehouse.statements import execute, literal

if TYPE_CHECKING:
    from motelake.warehouse.load import Judged


class Recorded(NamedTuple):
    """What the warehouse knows of a raw object."""

    batch: int
    state: str
    sha256: str


def read_objects(engine: duckdb.DuckDBPyConnection) -> dict[str, Recorded]:
    """Every raw object on record, by name."""
    rows = engine.execute("select object, batch, state, sha256 from raw_object").fetchall()
    return {name: Recorded(batch, state, sha256) for name, batch, state, sha256 in rows}


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
        "insert into batch by name select $number as batch, $id as id, $objects as objects, 'loaded' as state, "
        "0 as read, 0 as parsed, 0 as rejected, $made_at as made_at, now() as loaded_at",
        {"number": number, "id": manifest.id, "objects": len(manifest.objects), "made_at": manifest.made_at},
    )
    engine.executemany(
        "insert into raw_object values ($object, $batch, $sha256, $size, $state, $read, $parsed, 0, $rejected, "
        "$reading_rejects, $verdict)",
        [
            {
                "object": judged.staged.name,
                "batch": number,
                "sha256": judged.staged.sha256,
                "size": judged.staged.size,
                "state": judged.state,
                "read": judged.staged.lines.read,
                "parsed": judged.staged.lines.parsed,
                "rejected": judged.staged.lines.rejected,
                "reading_rejects": judged.staged.reading_rejects,
                "verdict": judged.verdict,
            }
            for judged in objects
        ],
    )
    if reject_files:
        files = ", ".join(literal(file) for file in reject_files)
        engine.execute(
            f"insert into reject by name select * from read_parquet([{files}], union_by_name = true) "
            "where object in (select unnest($objects))",
            {"objects": [judged.staged.name for judged in objects]},
        )
    return {
        judged.staged.name: Recorded(number, judged.state, judged.staged.sha256) for judged in objects
    }


def settle_record(engine: duckdb.DuckDBPyConnection) -> None:
    """Brings the counts of duplicates and the states of batches up to what is loaded."""
    execute(engine, "derive/70_settle_objects")
    execute(engine, "derive/71_settle_batches")
