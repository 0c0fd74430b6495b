"""What a lake and its warehouse take on disk, and what is free."""

import shutil
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from motelake.config import Config
from motelake.lake.store import Lake

# What the flows write beside raw/, staged/ and published/ is small.
AREAS = {
    "raw": ("raw",),
    "staged": ("staged", "rejects"),
    "records": ("manifests", "validation", "decisions", "watch"),
    "published": ("published",),
}


@dataclass(frozen=True)
class DiskUse:
    """Bytes in the lake by area, in the warehouse, and free where the warehouse is."""

    lake: Mapping[str, int]
    warehouse: int
    free: int | None


def disk_use(lake: Lake, config: Config) -> DiskUse:
    """The disk use of a lake and its warehouse; a listing of the whole lake."""
    return DiskUse(
        {
            area: sum(info.size for folder in folders for info in lake.list(folder))
            for area, folders in AREAS.items()
        },
        sum(file.stat().st_size for file in _files(config.warehouse) if file.is_file()),
        _free(config.warehouse),
    )


def _files(warehouse: Path) -> tuple[Path, Path]:
    return warehouse, Path(f"{warehouse}.wal")


def _free(warehouse: Path) -> int | None:
    there = next((folder for folder in warehouse.absolute().parents if folder.is_dir()), None)
    return shutil.disk_usage(there).free if there else None
