"""Staged files of one day, or files of rejects, put together into one."""

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from motelake.warehouse.statements import literal

if TYPE_CHECKING:
    import duckdb


def merge_files(
    engine: "duckdb.DuckDBPyConnection",
    files: Sequence[Path],
    left_out: Sequence[tuple[Path, str]],
    target: Path,
) -> None:
    """Writes the rows of these local files to one, in their order, but for pairs of file and object.

    The order is that of the batches, so that a load that asks for the objects of one batch reads few row
    groups. A column that a file knows nothing of is empty there.
    """
    source = f"read_parquet([{', '.join(literal(str(file)) for file in files)}], "
    source += "union_by_name = true, hive_partitioning = false, filename = true)"
    query = f"select * exclude (filename) from {source} as row"
    values: dict[str, list[str]] = {}
    if left_out:
        query += " where (filename, object) not in (select (unnest($left_files), unnest($left_objects)))"
        values = {
            "left_files": [str(file) for file, _ in left_out],
            "left_objects": [name for _, name in left_out],
        }
    engine.execute(f"copy ({query}) to {literal(str(target))} (format parquet, compression zstd)", values)
