"""What a lake and its warehouse take on disk, and what is free where a run writes."""

import shutil
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from tempfile import gettempdir

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

ROOM_AT_LEAST = 2 * 10**9
"""Bytes a run needs for a batch and for what DuckDB spills; with fewer it is likely to stop in the middle."""


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
        free_bytes(config.warehouse.parent),
    )


def written_places(config: Config) -> dict[str, Path]:
    """The folders on this machine that a run writes to, by what for."""
    places = {
        "temporary files": config.work_folder or Path(gettempdir()),
        "the warehouse": config.warehouse.parent,
    }
    if "://" not in config.lake:
        places["the lake"] = Path(config.lake)
    return places


def nearest_folder(place: Path) -> Path | None:
    """The folder at or above a place that is there already; None where nothing is."""
    return next((one for one in (place, *place.absolute().parents) if one.is_dir()), None)


def free_bytes(place: Path) -> int | None:
    """Bytes free on the disk of a folder, or of the nearest one above it; None where nothing is."""
    there = nearest_folder(place)
    return shutil.disk_usage(there).free if there else None
