"""The page: made of the current snapshot, so that its numbers agree and everybody can ask for them again."""

import json
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from time import monotonic
from typing import TYPE_CHECKING, Any

from motelake.config import Config
from motelake.core.instants import format_instant
from motelake.errors import InputError, QueryError
from motelake.lake.store import Lake
from motelake.library import Library, call
from motelake.page.answers import Answer, Ask
from motelake.page.hall import hall_html
from motelake.page.markup import page_html
from motelake.page.scene import Scene, read_scene
from motelake.page.story import tell
from motelake.steps.answers import published_rows
from motelake.steps.read import find_current, open_snapshot

if TYPE_CHECKING:
    import duckdb

FindRows = Callable[[str], list[dict[str, Any]] | None]

PAGE_FILE = "published/page.html"
HALL_FILE = "published/hall.html"
RECORD_FILE = "published/page.json"
# A scheduled run every few minutes must stay cheap, and nobody reads a page that often.
LEAST_AGE = timedelta(hours=1)


def refresh_page(
    lake: Lake,
    config: Config,
    library: Library,
    snapshot: str,
    say: Callable[[str], None],
    *,
    is_asked: bool,
    now: datetime,
) -> bool:
    """Makes the page where it is missing, asked for, or of another snapshot and an hour old; True if it "
    "did."""
    record = _read_record(lake)
    if record is not None and (
        record.snapshot == snapshot or not (is_asked or now - record.made_at >= LEAST_AGE)
    ):
        return False
    started = monotonic()
    pages = make_page(lake, config, library, now=now)
    for name, page in pages.items():
        lake.write(name, page)
    record = PageRecord(snapshot, now)
    lake.write(RECORD_FILE, record.to_json())
    say(f"page of {len(pages[PAGE_FILE]) / 1e6:.1f} MB made in {monotonic() - started:.1f} s")
    return True


def make_page(lake: Lake, config: Config, library: Library, *, now: datetime) -> dict[str, bytes]:
    """The page of the current snapshot and its hall view, HTML by name.

    Raises InputError where nothing was published yet.
    """
    current = find_current(lake)
    engine = open_snapshot(lake, memory=config.memory, threads=config.threads)
    try:
        scene = see(engine, current.id, now)
        story = tell(asker(engine, library, published_rows(lake, current.id)), scene)
    finally:
        engine.close()
    return {PAGE_FILE: page_html(story, scene).encode(), HALL_FILE: hall_html(story, scene).encode()}


@dataclass(frozen=True)
class PageRecord:
    """Of which snapshot the page is, and when it was made."""

    snapshot: str
    made_at: datetime

    def to_json(self) -> bytes:
        """The record as it stands beside the page."""
        return (
            json.dumps({"snapshot": self.snapshot, "made_at": format_instant(self.made_at)}).encode() + b"\n"
        )


def _read_record(lake: Lake) -> PageRecord | None:
    try:
        said = json.loads(lake.read(RECORD_FILE))
        return PageRecord(said["snapshot"], datetime.fromisoformat(said["made_at"]))
    except (FileNotFoundError, ValueError, KeyError, TypeError):
        # Told from the page anew: a record that is missing or damaged costs one page.
        return None


def see(engine: "duckdb.DuckDBPyConnection", snapshot: str, now: datetime) -> Scene:
    """The scene of an open snapshot."""
    scene = read_scene(lambda statement: _rows(engine, statement), snapshot, now)
    if scene is None:
        raise InputError("The published snapshot holds no campaign. Publish it again.")
    return scene


def asker(engine: "duckdb.DuckDBPyConnection", library: Library, find: FindRows = lambda view: None) -> Ask:
    """Asks the library of an open snapshot; a question that cannot be answered from this data gives None.

    find gives the rows of a question asked without parameters where they are published already.
    """
    asked: dict[tuple[str, tuple[tuple[str, str], ...]], Answer | None] = {}

    def asked_once(view: str, given: Mapping[str, str]) -> Answer | None:
        key = (view, tuple(sorted(given.items())))
        if key not in asked:
            asked[key] = _ask(engine, library, view, given, None if given else find(view))
        return asked[key]

    return asked_once


def _ask(
    engine: "duckdb.DuckDBPyConnection",
    library: Library,
    view: str,
    given: Mapping[str, str],
    rows: list[dict[str, Any]] | None,
) -> Answer | None:
    entry = library.entries.get(view)
    if entry is None:
        return None
    if rows is None:
        try:
            statement, values = call(entry, given)
            rows = _rows(engine, statement, values)
        except QueryError:
            return None
    units = {column.name: column.unit for column in entry.columns if column.unit}
    return Answer(view, rows, given, units, entry.question, entry.misleads)


def _rows(
    engine: "duckdb.DuckDBPyConnection", statement: str, values: Sequence[Any] = ()
) -> list[dict[str, Any]]:
    from motelake.warehouse.sandbox import answer

    rows: list[dict[str, Any]] = answer(engine, statement, values).to_pylist()
    return rows
