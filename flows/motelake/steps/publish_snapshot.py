"""A new snapshot in the lake, and then the word that it is current."""

from datetime import datetime
from importlib.metadata import version
from pathlib import Path
from typing import TYPE_CHECKING

from motelake.core.published import CURRENT_FILE, Current, Leaving
from motelake.lake.store import Lake
from motelake.library import Library
from motelake.steps.published_files import note_leaving, put_published, write_leaving
from motelake.warehouse.days import parts_with_days
from motelake.warehouse.snapshot import build_snapshot, library_hash, parts_by_table, snapshot_id

if TYPE_CHECKING:
    import duckdb


def publish_snapshot(
    lake: Lake,
    engine: "duckdb.DuckDBPyConnection",
    library: Library,
    *,
    current: Current | None,
    leaving: Leaving,
    folder: Path,
    now: datetime,
) -> tuple[Current, bool]:
    """The snapshot of the warehouse as it is now, and whether it is another than the current one.

    Then it lies in the lake, with a part of no rows for each table that has none. folder is an empty local
    one to make it in.
    """
    parts = parts_by_table(engine, parts_with_days(engine), folder)
    versions = {name: version(name) for name in ("motelake", "duckdb")} | {"library": library_hash(library)}
    identity = snapshot_id(
        engine, library, parts, library_version=versions["library"], duckdb_version=versions["duckdb"]
    )
    if current and current.id == identity:
        return current, False
    title = engine.execute("select any_value(title) from campaign").fetchall()[0][0]
    data_from, data_to = engine.execute("select min(sampled_at), max(sampled_at) from burst").fetchall()[0]
    made = Current(
        id=identity,
        snapshot=f"snapshots/{identity}.duckdb",
        made_at=now,
        title=title or "",
        parts=parts,
        data_from=data_from,
        data_to=data_to,
        versions=versions,
    )
    (folder / "snapshots").mkdir()
    (folder / "stand_ins").mkdir()
    build_snapshot(
        engine,
        library,
        parts,
        folder / made.snapshot,
        folder / "stand_ins",
        before=_fetch_snapshot(lake, current, folder) if current and current.versions == versions else None,
    )
    named = current.names() if current else set()
    new = [name for name in sorted(made.names() - named) if (folder / name).is_file()]
    leaving = note_leaving(lake, leaving, [*new, *(named - made.names())], now)
    put_published(lake, folder, new)
    lake.write(CURRENT_FILE, made.to_json())
    write_leaving(lake, leaving.without(made.names()))
    return made, True


def _fetch_snapshot(lake: Lake, current: Current, folder: Path) -> Path | None:
    try:
        file = lake.fetch(f"published/{current.snapshot}", folder)
    except FileNotFoundError:
        return None
    return file if file.is_file() else None
