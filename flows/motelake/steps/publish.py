"""Publishing: changed hours as parts, then a snapshot that names them, then the word that it is current.

Readers begin at published/current.json, which is written last, so they meet whole snapshots only. Whenever a
publisher dies, what it did not get to is done by the next one.
"""

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from itertools import groupby
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING

from motelake.config import Config
from motelake.core.published import Leaving
from motelake.core.sentences import Say, counted
from motelake.engine import told_surroundings
from motelake.errors import InputError
from motelake.lake.store import Lake
from motelake.library import Library, read_library
from motelake.steps.answers import publish_answers
from motelake.steps.deliveries import refuse_strange_lake
from motelake.steps.publish_snapshot import publish_snapshot
from motelake.steps.published_files import (
    is_published,
    note_leaving,
    note_left_over,
    put_published,
    take_away_overdue,
)
from motelake.steps.read import read_current
from motelake.steps.report import Report
from motelake.warehouse.days import (
    days_to_make,
    dissolve_days,
    parts_with_days,
    prepare_days,
    record_days,
    write_day,
)
from motelake.warehouse.parts import Part, changed_hours, in_loads, prepare_parts, record_parts, write_parts
from motelake.warehouse.shares import is_kept_by_shares, view_parts

if TYPE_CHECKING:
    import duckdb


@dataclass(frozen=True)
class PublishReport(Report):
    """What a publish did; snapshot is the current one afterwards, new or not."""

    snapshot: str
    is_new: bool
    hours: int
    parts_written: int
    bytes_written: int
    files_removed: int
    answers_made: tuple[str, ...]
    answers_failed: tuple[str, ...]
    page_made: bool = False
    page_failures: tuple[str, ...] = ()

    @property
    def needs_attention(self) -> bool:
        """True where a question could not be answered, or a picture not drawn."""
        return bool(self.answers_failed or self.page_failures)


def publish(
    lake: Lake,
    config: Config,
    say: Say,
    *,
    refresh: Collection[str] = ("run",),
    now: datetime | None = None,
    merges_days: bool = False,
) -> PublishReport:
    """Publishes what the warehouse of this configuration holds, then the page; see publish_warehouse.

    Raises LockedError where another process is at work in the warehouse, InputError where there is none or
    it was made from another lake: what is published would be replaced by what is not of this lake.
    """
    from motelake.steps.refresh_page import refresh_page
    from motelake.warehouse.store import open_warehouse, refuse_missing, told_how_to_mend

    now = now or datetime.now(UTC)
    library = read_library()
    refuse_missing(config)
    with told_how_to_mend(config), told_surroundings("Publishing"), open_warehouse(config) as engine:
        refuse_strange_lake(engine, lake, config)
        report = publish_warehouse(
            lake,
            engine,
            library,
            say,
            refresh=refresh,
            now=now,
            work_folder=config.work_folder,
            merges_days=merges_days,
        )
    # The page reads the snapshot, so the warehouse is free for others while it is made.
    page_made, failures = refresh_page(
        lake, config, library, report.snapshot, say, is_asked="hour" in refresh, now=now
    )
    return replace(report, page_made=page_made, page_failures=failures)


def publish_warehouse(
    lake: Lake,
    engine: "duckdb.DuckDBPyConnection",
    library: Library,
    say: Say,
    *,
    refresh: Collection[str] = ("run",),
    now: datetime | None = None,
    work_folder: Path | None = None,
    merges_days: bool = False,
) -> PublishReport:
    """Publishes what an open warehouse holds; nothing is written where nothing changed.

    refresh names the kinds of answers to bring up to the snapshot: run, hour, day. now stands for the clock.
    merges_days makes one part of the hours of each day that is over, and notes what nobody names.
    Raises StoreError where the lake cannot be written.
    """
    now = now or datetime.now(UTC)
    prepare_parts(engine)
    prepare_days(engine)
    current = read_current(lake)
    leaving, removed = take_away_overdue(lake, current, now)
    named = current.names() if current else set()
    if merges_days:
        leaving = note_left_over(lake, named | {part.name for part in parts_with_days(engine)}, leaving, now)
    dissolve_days(engine, named | leaving.since.keys())
    hours = sorted(_hours_to_write(engine, named | leaving.since.keys()))
    is_by_shares = is_kept_by_shares(engine)
    written: list[Part] = []
    changed = len(hours)
    if is_by_shares:
        _refuse_lost(lake, hours)
        lake.attach(engine)
        # Loading had them written, for this snapshot all the same.
        written = [part for part in parts_with_days(engine) if part.name not in named]
        changed = len({part.hour_at for part in written})
    leaving, parts = _write_hours(
        lake, engine, hours, leaving, say, named=named, now=now, work_folder=work_folder
    )
    written += parts
    if merges_days:
        leaving, days = _merge_days(lake, engine, leaving, say, now=now, work_folder=work_folder)
        written += days
    with TemporaryDirectory(dir=work_folder, prefix="motelake-publish-") as folder:
        made, is_new = publish_snapshot(
            lake, engine, library, current=current, leaving=leaving, folder=Path(folder), now=now
        )
    if is_new:
        say(f"snapshot {made.id} is current")
    if is_by_shares:
        view_parts(engine, lambda name: lake.engine_path(f"published/{name}"))
    answers = publish_answers(
        lake, engine, library, made.id, say, refresh=refresh, now=now, work_folder=work_folder
    )
    return PublishReport(
        snapshot=made.id,
        is_new=is_new,
        hours=changed,
        parts_written=len(written),
        bytes_written=sum(part.byte_count for part in written),
        files_removed=removed,
        answers_made=tuple(answers.made),
        answers_failed=tuple(answers.failed),
    )


def _refuse_lost(lake: Lake, hours: Collection[datetime]) -> None:
    # Only the shares can write them again, and loading asks them to.
    if hours:
        raise InputError(
            f"Parts of {len(hours)} hours are gone from {lake.url}/published. Loading writes them "
            f"again: run `motelake load {lake.url}`, then publish."
        )


def _hours_to_write(engine: "duckdb.DuckDBPyConnection", known: set[str]) -> set[datetime]:
    # Parts that the lake no longer knows of were published elsewhere, or published/ was thrown away.
    lost = {part.hour_at for part in parts_with_days(engine) if part.name not in known}
    return changed_hours(engine) | lost


def _write_hours(
    lake: Lake,
    engine: "duckdb.DuckDBPyConnection",
    hours: Sequence[datetime],
    leaving: Leaving,
    say: Say,
    *,
    named: Collection[str],
    now: datetime,
    work_folder: Path | None,
) -> tuple[Leaving, list[Part]]:
    written: list[Part] = []
    for some_hours in in_loads(engine, hours):
        with TemporaryDirectory(dir=work_folder, prefix="motelake-publish-") as folder:
            parts = write_parts(engine, some_hours, Path(folder))
            new = [part for part in parts if not is_published(lake, part.name, named, leaving)]
            leaving = note_leaving(lake, leaving, (part.name for part in parts), now)
            put_published(lake, Path(folder), (part.name for part in new))
        record_parts(engine, some_hours, parts)
        written += new
        parts_of_hours = f"{counted(len(new), 'part')} of {counted(len(some_hours), 'hour')}"
        say(f"{parts_of_hours} written, from {some_hours[0]:%Y-%m-%d %H:%M} UTC")
    return leaving, written


def _merge_days(
    lake: Lake,
    engine: "duckdb.DuckDBPyConnection",
    leaving: Leaving,
    say: Say,
    *,
    now: datetime,
    work_folder: Path | None,
) -> tuple[Leaving, list[Part]]:
    made: list[Part] = []
    for _, days in groupby(days_to_make(engine, now), key=lambda day: day.day_at):
        with TemporaryDirectory(dir=work_folder, prefix="motelake-publish-") as folder:
            parts = {}
            for day in days:
                hours = [lake.fetch(f"published/{name}", Path(folder)) for name in day.hours]
                parts[day] = write_day(engine, day, hours, Path(folder))
            names = [part.name for part in parts.values()]
            leaving = note_leaving(lake, leaving, names, now)
            put_published(lake, Path(folder), names)
        record_days(engine, parts)
        made += parts.values()
    if made:
        say(f"{counted(len(made), 'part')} made of the hours of days that are over")
    return leaving, made
