"""The page: made of the current snapshot, so that its numbers agree and everybody can ask for them again."""

from collections.abc import Callable, Mapping
from concurrent.futures import Future
from dataclasses import dataclass, field, replace
from datetime import datetime
from math import inf
from time import process_time
from typing import TYPE_CHECKING, Any

from motelake.config import Config
from motelake.errors import InputError, QueryError
from motelake.lake.store import Lake
from motelake.library import Library, call
from motelake.page.answers import Answer, Missed
from motelake.page.drawings import drawings
from motelake.page.hall import hall_html
from motelake.page.markup import page_html
from motelake.page.scene import Scene, read_scene
from motelake.page.story import ASKED, tell
from motelake.steps.answers import published_rows
from motelake.steps.read import find_current, open_snapshot

if TYPE_CHECKING:
    import duckdb

Key = tuple[str, tuple[tuple[str, str], ...]]
FindRows = Callable[[str], list[dict[str, Any]] | None]

PAGE_FILE = "published/page.html"
HALL_FILE = "published/hall.html"
# Some of a question's work runs on one core only, so that two at a time keep two cores busy.
QUESTIONS_AT_ONCE = 2
# Seconds of computing, of one question beside another and of all; four days of 500 motes need 2 and 15, and
# four times as much on a slow machine.
QUESTION_AT_MOST_S = 30.0
PAGE_AT_MOST_S = 120.0


@dataclass(frozen=True)
class Pages:
    """The page and its hall view, HTML by name, and what of them failed."""

    files: Mapping[str, bytes]
    failures: tuple[str, ...]


def make_page(lake: Lake, config: Config, library: Library, *, now: datetime) -> Pages:
    """The page of the current snapshot and its hall view.

    Raises InputError where nothing was published yet.
    """
    from motelake.warehouse.asked import asked_of_warehouse

    current = find_current(lake)
    engine = open_snapshot(lake, memory=config.memory, threads=config.threads)
    try:
        with asked_of_warehouse(engine, library, [library.entries[name] for name in ASKED]):
            scene = see(engine, current.id, now)
            first = Asker(engine, library, published_rows(lake, current.id))
            first.ends_at_s = process_time() + PAGE_AT_MOST_S
            asks = [first, *(first.beside() for _ in range(QUESTIONS_AT_ONCE - 1))]
            with drawings(scene) as pictures:
                story = tell(asks, scene, pictures.begin)
                failures = [
                    f"{section.key}: {section.failure}" for section in story.sections if section.failure
                ] + pictures.failures()
                files = {
                    PAGE_FILE: page_html(story, scene, pictures).encode(),
                    HALL_FILE: hall_html(story, scene, pictures).encode(),
                }
    finally:
        engine.close()
    return Pages(files, tuple(failures))


def see(engine: "duckdb.DuckDBPyConnection", snapshot: str, now: datetime) -> Scene:
    """The scene of an open snapshot."""
    from motelake.warehouse.sandbox import rows

    scene = read_scene(lambda statement: rows(engine, statement), snapshot, now)
    if scene is None:
        raise InputError("The published snapshot holds no campaign. Publish it again.")
    return scene


@dataclass
class Asker:
    """Asks the library of an open snapshot, each question once and none for longer than it may take.

    find gives the rows of a question asked without parameters where they are published already.
    """

    engine: "duckdb.DuckDBPyConnection"
    library: Library
    find: FindRows = lambda view: None
    missed: list[Missed] = field(default_factory=list)
    question_at_most_s: float = QUESTION_AT_MOST_S
    ends_at_s: float = inf
    asked: dict[Key, "Future[Answer | Missed | None]"] = field(default_factory=dict)

    def __call__(self, view: str, given: Mapping[str, str]) -> Answer | None:
        """The answer; None where this data cannot give one, or not in time."""
        answered: Future[Answer | Missed | None] = Future()
        known = self.asked.setdefault((view, tuple(sorted(given.items()))), answered)
        if known is answered:
            try:
                answered.set_result(self._ask(view, given))
            except BaseException as error:
                answered.set_exception(error)
                raise
        found = known.result()
        if isinstance(found, Missed):
            self.missed.append(found)
            return None
        return found

    def beside(self) -> "Asker":
        """One that asks at the same time, and what was asked already knows too."""
        from motelake.warehouse.asked import beside

        return replace(self, engine=beside(self.engine), missed=[])

    def _ask(self, view: str, given: Mapping[str, str]) -> Answer | Missed | None:
        from motelake.warehouse.asked import TooLongError, interrupted_after
        from motelake.warehouse.sandbox import rows

        entry = self.library.entries.get(view)
        if entry is None:
            return None
        units = {column.name: column.unit for column in entry.columns if column.unit}
        answer = Answer(view, (), given, units, entry.question, entry.misleads)
        found = None if given else self.find(view)
        if found is None:
            left = min(self.question_at_most_s, self.ends_at_s - process_time())
            if left <= 0:
                return Missed(answer.call, "was not asked: the questions before it had used up the time.")
            try:
                statement, values = call(entry, given)
                with interrupted_after(self.engine, left):
                    found = rows(self.engine, statement, values)
            except TooLongError:
                return Missed(answer.call, "takes longer than a page may; asked alone, it is answered.")
            except QueryError:
                return None
        return replace(answer, rows=found)
