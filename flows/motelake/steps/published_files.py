"""Files below published/: put there, and noted for as long as nothing current names them."""

from collections.abc import Iterable
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

from motelake.core.published import LEAVING_FILE, Leaving
from motelake.lake.store import Lake

PUTS_AT_ONCE = 8


def put_published(lake: Lake, folder: Path, names: Iterable[str]) -> None:
    """Puts files of a local folder below published/, under the names they have there."""
    # Each file waits until the disk or the store has it, so several wait at once.
    with ThreadPoolExecutor(PUTS_AT_ONCE) as pool:
        for put in [pool.submit(lake.put_file, folder / name, f"published/{name}") for name in names]:
            put.result()


def read_leaving(lake: Lake) -> Leaving:
    """What nothing current is known to name; nothing where no note of it was made yet."""
    try:
        return Leaving.from_json(lake.read(LEAVING_FILE))
    except FileNotFoundError:
        return Leaving({})
