"""Reading what is published: the current snapshot of a lake, wherever the lake is."""

import weakref
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from motelake.core.published import CURRENT_FILE, Current
from motelake.errors import InputError
from motelake.lake.store import Lake
from motelake.library import Library, call, read_library

if TYPE_CHECKING:
    import duckdb
    import pyarrow as pa

# The kinds of names that a parameter of the library may be, and where those that exist are found.
_NAMES: Mapping[str, str] = {
    "kind": "select distinct kind from programme_event where kind is not null",
    "level": "select level from level",
    "measure": "select measure from measure",
    "mote": "select mote from mote",
    "network": "select distinct network from mote where network is not null",
    "stream": "select stream from context_stream",
    "zone": "select zone from zone",
}


@dataclass(frozen=True)
class Near:
    """A snapshot as this machine reads it: a local file, and the folder or URL its parts lie below.

    lake is what must be attached to an engine before it can read the parts, None where nothing must.
    """

    snapshot: Path
    published: str
    lake: Lake | None = None


def read_current(lake: Lake) -> Current | None:
    """Which snapshot is current, or None where nothing was published yet."""
    try:
        return Current.from_json(lake.read(CURRENT_FILE))
    except FileNotFoundError:
        return None


def find_current(lake: Lake) -> Current:
    """Which snapshot is current; raises InputError where nothing was published yet."""
    current = read_current(lake)
    if current is None:
        raise InputError(f"Nothing is published in {lake.url} yet. Run 'motelake run {lake.url}' first.")
    return current


def nearest_copy(lake: Lake, current: Current, folder: Path) -> Near:
    """The snapshot as this machine can read it, with copies in folder of what cannot be read where it is."""
    name = f"published/{current.snapshot}"
    if lake.is_local:
        return Near(lake.local_path(name), str(lake.local_path("published")))
    if lake.url.startswith("memory:"):
        # Another process does not see this one's memory, and readers of one object there share a cursor.
        for part in current.names():
            copy = folder / part
            copy.parent.mkdir(parents=True, exist_ok=True)
            copy.write_bytes(lake.read(f"published/{part}"))
        return Near(folder / current.snapshot, str(folder))
    return Near(lake.fetch(name, folder), lake.engine_path("published"), lake)


def open_snapshot(
    lake: Lake, *, memory: str | None = None, threads: int | None = None
) -> "duckdb.DuckDBPyConnection":
    """A connection to the current snapshot, read only; later publishes do not show in it.

    What is created through it stays in memory. Raises InputError where nothing was published yet.
    """
    from motelake.warehouse.reader import open_reader

    folder = TemporaryDirectory(prefix="motelake-read-", ignore_cleanup_errors=True)
    near = nearest_copy(lake, find_current(lake), Path(folder.name))
    # DuckDB would otherwise spill into the folder one happens to stand in.
    spill_folder = Path(folder.name) / "spill"
    engine = open_reader(
        near.snapshot, near.published, memory=memory, threads=threads, spill_folder=spill_folder
    )
    # Copies are read until the connection is gone.
    weakref.finalize(engine, folder.cleanup)
    if near.lake:
        near.lake.attach(engine)
    return engine


def ask(
    lake: Lake,
    view: str,
    given: Mapping[str, str] | None = None,
    *,
    library: Library | None = None,
    memory: str | None = None,
    threads: int | None = None,
) -> "pa.Table":
    """The rows with which the current snapshot answers a question of the library.

    given holds parameters as text; those left out have their defaults, times without an offset are those of
    the campaign's zone, as people read them in answers. Raises UnknownNameError or QueryError
    naming what is accepted.
    """
    from motelake.warehouse.sandbox import answer

    entry = (library or read_library()).find(view)
    engine = open_snapshot(lake, memory=memory, threads=threads)
    kinds = {parameter.of for parameter in entry.parameters}
    known = {
        kind: [name for (name,) in engine.execute(names).fetchall()]
        for kind, names in _NAMES.items()
        if kind in kinds
    }
    statement, values = call(entry, given or {}, known, zone=_zone(engine))
    return answer(engine, statement, values)


def _zone(engine: "duckdb.DuckDBPyConnection") -> ZoneInfo:
    rows = engine.execute("select time_zone from campaign").fetchall()
    return ZoneInfo(rows[0][0] if rows else "UTC")
