"""What a lake and its warehouse take on disk, and what is free."""

import shutil
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from motelake.config import Config
from motelake.lake.store import Lake
from motelake.warehouse.store import files_of

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
        sum(file.stat().st_size for file in files_of(config.warehouse) if file.is_file()),
        _free(config.warehouse.parent),
    )


def nearest_folder(place: Path) -> Path | None:
    """The folder at or above a place that is there already; None where nothing is."""
    return next((one for one in (place, *place.absolute().parents) if one.is_dir()), None)


def _free(place: Path) -> int | None:
    there = nearest_folder(place)
    return shutil.disk_usage(there).free if there else None
