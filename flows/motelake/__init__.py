"""motelake: from the raw bursts of a temporary sensor network to answers that say how far to trust them."""

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import duckdb

__all__ = ["open"]


def open(lake: str, **storage_options: Any) -> "duckdb.DuckDBPyConnection":
    """A DuckDB connection to the current snapshot of a lake, for notebooks and scripts.

    lake is a folder or an fsspec URL. Ask as with any DuckDB connection:
    motelake.open(LAKE).sql("from change.since_baseline()").df(). Nothing that is published can be changed
    through it, and later publishes do not show in it. Raises InputError where there is no lake, or nothing is
    published yet.
    """
    from motelake.lake.store import Lake
    from motelake.steps.read import open_snapshot

    return open_snapshot(Lake.open(lake, **storage_options))
