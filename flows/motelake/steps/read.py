"""Reading what is published: the current snapshot of a lake, wherever the lake is."""

from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING

from motelake.core.published import CURRENT_FILE, Current
from motelake.errors import InputError
from motelake.lake.store import Lake

if TYPE_CHECKING:
    import duckdb


def find_current(lake: Lake) -> Current:
    """Which snapshot is current; raises InputError where nothing was published yet."""
    try:
        return Current.from_json(lake.read(CURRENT_FILE))
    except FileNotFoundError:
        raise InputError(
            f"Nothing is published in {lake.url} yet. Run 'motelake run {lake.url}' first."
        ) from None


def open_snapshot(
    lake: Lake, *, memory: str | None = None, threads: int | None = None
) -> "duckdb.DuckDBPyConnection":
    """A connection to the current snapshot, read only; later publishes do not show in it.

    What is created through it stays in memory. Raises InputError where nothing was published yet.
    """
    from motelake.warehouse.reader import open_reader

    current = find_current(lake)
    name = f"published/{current.snapshot}"
    published = lake.engine_path("published")
    if lake.is_local:
        return open_reader(lake.local_path(name), published, memory=memory, threads=threads)
    # The file may go once it is open: what is open stays readable, and nothing is left behind.
    with TemporaryDirectory(prefix="motelake-read-") as folder:
        engine = open_reader(lake.fetch(name, Path(folder)), published, memory=memory, threads=threads)
    lake.attach(engine)
    return engine
