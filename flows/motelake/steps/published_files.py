"""Files below published/: put there, noted while nothing current names them, taken away a day later."""

from collections.abc import Collection, Iterable
from concurrent.futures import ThreadPoolExecutor
from datetime import datetime
from pathlib import Path

from motelake.core.published import LEAVING_FILE, Current, Leaving
from motelake.lake.store import Lake

PARTS_FOLDER = "published/parts"
PUTS_AT_ONCE = 8


def put_published(lake: Lake, folder: Path, names: Iterable[str]) -> None:
    """Puts files of a local folder below published/, under the names they have there."""
    # Each file waits until the disk or the store has it, so several wait at once.
    with ThreadPoolExecutor(PUTS_AT_ONCE) as pool:
        for put in [pool.submit(lake.put_file, folder / name, f"published/{name}") for name in names]:
            put.result()


def is_published(lake: Lake, name: str, named: Collection[str], leaving: Leaving) -> bool:
    """True where a file lies below published/; named are those of the current snapshot."""
    # A file is noted as leaving before it is written, so the note alone does not prove it.
    return name in named or (name in leaving.since and lake.exists(f"published/{name}"))


def read_leaving(lake: Lake, file: str = LEAVING_FILE) -> Leaving:
    """What nothing current is known to name; nothing where no note of it was made yet."""
    try:
        return Leaving.from_json(lake.read(file), file)
    except FileNotFoundError:
        return Leaving({})


def write_leaving(lake: Lake, leaving: Leaving) -> None:
    """Puts the note in place of the one before."""
    lake.write(LEAVING_FILE, leaving.to_json())


def note_leaving(lake: Lake, leaving: Leaving, names: Iterable[str], now: datetime) -> Leaving:
    """The note with these names let go now, as it lies in the lake from here on."""
    leaving = leaving.noted(names, now)
    write_leaving(lake, leaving)
    return leaving


def take_away_overdue(lake: Lake, current: Current | None, now: datetime) -> tuple[Leaving, int]:
    """Takes away what was let go a day ago; returns what is still to go, and how many files went."""
    leaving = read_leaving(lake).without(current.names() if current else ())
    overdue = leaving.overdue(now)
    for name in overdue:
        lake.remove(f"published/{name}")
    leaving = leaving.without(overdue)
    if overdue:
        write_leaving(lake, leaving)
    return leaving, len(overdue)


def note_left_over(lake: Lake, known: Collection[str], leaving: Leaving, now: datetime) -> Leaving:
    """The note with parts that nobody knows: of shares that died before they could tell of them."""
    listed = {info.name.removeprefix("published/") for info in lake.list(PARTS_FOLDER)}
    left_over = listed.difference(known) - leaving.since.keys()
    return note_leaving(lake, leaving, left_over, now) if left_over else leaving
