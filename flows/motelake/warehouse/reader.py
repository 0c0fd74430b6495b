"""Reading a snapshot, in a database of its own, so that one process may read old and new side by side."""

from pathlib import Path
from typing import TYPE_CHECKING

from motelake.engine import open_engine
from motelake.errors import SurroundingsError
from motelake.library import literal

if TYPE_CHECKING:
    import duckdb


def attach_snapshot(engine: "duckdb.DuckDBPyConnection", file: Path, published: str) -> None:
    """Puts a snapshot file before an engine, read only; its parts lie below published, a folder or a URL."""
    try:
        engine.execute(f"attach {literal(str(file))} as motelake (read_only)")
    except Exception as error:
        raise SurroundingsError(f"The snapshot {file} cannot be opened: {error}") from error
    engine.execute("use motelake")
    engine.execute("set variable published = ?", [published.rstrip("/") + "/"])


def open_reader(
    file: Path,
    published: str,
    *,
    memory: str | None = None,
    threads: int | None = None,
    spill_folder: Path | None = None,
) -> "duckdb.DuckDBPyConnection":
    """A connection that reads one snapshot; what it creates stays in memory and goes with it."""
    engine = open_engine(memory=memory, threads=threads, spill_folder=spill_folder)
    attach_snapshot(engine, file, published)
    return engine
