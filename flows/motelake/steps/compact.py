"""Keeping files healthy: small ones put together, published hours made into days, left-over ones swept."""

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING

from motelake.config import Config
from motelake.core.campaign import Campaign
from motelake.core.compaction import Merge, files_of, living_files, plan_merges
from motelake.core.hashes import content_hash
from motelake.core.manifests import Manifest
from motelake.core.published import KEPT_FOR, REFRESHES
from motelake.core.sentences import Say
from motelake.engine import open_engine, told_surroundings
from motelake.lake.chain import append, read_chain, read_manifests
from motelake.lake.store import Lake
from motelake.steps.publish import PublishReport, publish
from motelake.steps.published_files import read_leaving
from motelake.steps.report import Report
from motelake.steps.stage import staging_inputs
from motelake.warehouse.merge import merge_files

if TYPE_CHECKING:
    import duckdb

LEAVING_FILE = "manifests/leaving.json"
FOLDERS = ("staged", "rejects")
WRITTEN = ("staged", "rejects", "manifests", "validation", "decisions", "published")


@dataclass(frozen=True)
class CompactReport(Report):
    """What a compaction did: files merged and into how many, files removed, and the publish."""

    files_merged: int
    files_made: int
    files_removed: int
    publish: PublishReport

    @property
    def needs_attention(self) -> bool:
        """True where a question could not be answered."""
        return self.publish.needs_attention


def compact(
    lake: Lake,
    campaign: Campaign,
    config: Config,
    say: Say,
    *,
    refresh: Collection[str] = REFRESHES,
    now: datetime | None = None,
) -> CompactReport:
    """Puts together what was staged, rejected and published of the days that are over; answers stay the same.

    What is replaced goes a day later, so that whoever reads it can finish; so does what nobody names, or what
    was killed half written. refresh names the kinds of answers to make again; now stands for the clock.
    Raises LockedError where another process is at work in the warehouse.
    """
    now = now or datetime.now(UTC)
    removed = _take_away_overdue(lake, now) + sum(lake.sweep(name, now - KEPT_FOR) for name in WRITTEN)
    merges = _merge(lake, campaign, config, say, now)
    return CompactReport(
        files_merged=sum(len(merge.files) for merge in merges),
        files_made=len(merges),
        files_removed=removed,
        publish=publish(lake, config, say, refresh=refresh, now=now, merges_days=True),
    )


def _take_away_overdue(lake: Lake, now: datetime) -> int:
    leaving = read_leaving(lake, LEAVING_FILE)
    if not leaving.since:
        return 0
    kept = leaving.without(living_files(read_manifests(lake)))
    overdue = kept.overdue(now)
    for name in overdue:
        lake.remove(name)
    lake.write(LEAVING_FILE, kept.without(overdue).to_json())
    return len(overdue)


@told_surroundings("Compacting")
def _merge(lake: Lake, campaign: Campaign, config: Config, say: Say, now: datetime) -> list[Merge]:
    made: list[Merge] = []
    with (
        TemporaryDirectory(prefix="motelake-compact-", dir=config.work_folder) as work,
        open_engine(memory=config.memory, threads=config.threads, spill_folder=Path(work)) as engine,
    ):
        while True:
            sizes = {info.name: info.size for folder in FOLDERS for info in lake.list(folder)}
            manifests, chain = read_manifests(lake), read_chain(lake)
            if chain.number > len(manifests):
                continue
            _note_left_over(lake, manifests, sizes, now)
            try:
                for merge in plan_merges(manifests, sizes, now):
                    _note(lake, [*merge.files, merge.name], now)
                    with TemporaryDirectory(dir=work) as folder:
                        _write(lake, engine, merge, Path(folder))
                    chain = append(lake, chain, _manifest(campaign, chain.number, chain.id, merge, now))
                    made.append(merge)
                    what = f"staged files of {merge.day}" if merge.day else "files of rejects"
                    say(f"{len(merge.files)} {what} are one now.")
            except FileExistsError:
                # Somebody staged meanwhile; an object staged again must not come out of what was merged.
                continue
            return made


def _write(lake: Lake, engine: "duckdb.DuckDBPyConnection", merge: Merge, folder: Path) -> None:
    files = {name: lake.fetch(name, folder) for name in merge.files}
    left_out = [(files[file], name) for file, name in merge.left_out]
    merge_files(engine, list(files.values()), left_out, folder / "merged.parquet")
    lake.put_file(folder / "merged.parquet", merge.name)


def _manifest(campaign: Campaign, number: int, previous: str | None, merge: Merge, now: datetime) -> Manifest:
    return Manifest(
        number=number + 1,
        id=content_hash({"replaces": {merge.name: merge.files}})[:32],
        previous=previous,
        made_at=now.replace(microsecond=0),
        inputs=staging_inputs(campaign),
        objects=(),
        staged=(merge.name,) if merge.day else (),
        rejects=None if merge.day else merge.name,
        replaces={merge.name: merge.files},
    )


def _note_left_over(
    lake: Lake, manifests: Sequence[Manifest], listed: Collection[str], now: datetime
) -> None:
    """Notes files that no manifest names: somebody is about to name them, or died before."""
    named = {name for manifest in manifests for name in files_of(manifest)}
    if left_over := sorted(set(listed) - named - read_leaving(lake, LEAVING_FILE).since.keys()):
        _note(lake, left_over, now)


def _note(lake: Lake, names: list[str], now: datetime) -> None:
    """Before they are written or let go, so that a compaction that dies leaves nothing behind for ever."""
    lake.write(LEAVING_FILE, read_leaving(lake, LEAVING_FILE).noted(names, now).to_json())
