"""One batch: raw objects parsed into DuckDB, then written to the lake as Parquet."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from functools import partial
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING, BinaryIO

from motelake.config import Config, as_set_here
from motelake.core.manifests import (
    Lines,
    ObjectInfo,
    StagedObject,
    StagingInputs,
    manifest_id,
    reading_rejects_name,
    rejects_name,
    staged_name,
)
from motelake.engine import open_engine, told_surroundings
from motelake.errors import NotPermittedError
from motelake.formats.objects import RawObject, parse_objects
from motelake.formats.plan import ObjectCount, ObjectRefused, ReadingPlan
from motelake.formats.staging import Staging
from motelake.formats.tables import LINE_REJECTS, LINES, READING_REJECTS
from motelake.lake.store import Lake
from motelake.library import literal, read_sql

if TYPE_CHECKING:
    import duckdb


@dataclass(frozen=True)
class Workbench:
    """Where a batch is made: the lake, an engine of its own and a folder for files on their way."""

    lake: Lake
    engine: "duckdb.DuckDBPyConnection"
    work_folder: Path


@dataclass(frozen=True)
class Batch:
    """What a manifest will say, but for its place in the chain; all its files are in the lake."""

    id: str
    objects: tuple[StagedObject, ...]
    staged: tuple[str, ...]
    rejects: str | None
    reading_rejects: str | None


@dataclass(frozen=True)
class PassedOver:
    """An object that could not be staged this time; it is tried again in the next run.

    needs_somebody: it will not be otherwise then, unless a person sees to it.
    """

    name: str
    reason: str
    needs_somebody: bool = False

    @property
    def sentence(self) -> str:
        """What happened, for people."""
        return f"{self.name} was left for the next run: {self.reason}"


def reading_plan(inputs: StagingInputs) -> ReadingPlan:
    """The same, as formats take it."""
    return ReadingPlan(
        measures=inputs.measures,
        motes=frozenset(inputs.motes),
        starts_at=inputs.starts_at,
        accepts_until=inputs.ends_at + timedelta(minutes=inputs.late_min),
        bytes_per_object=inputs.bytes_per_object,
        bytes_per_line=inputs.bytes_per_line,
    )


Infos = Sequence[ObjectInfo]
Made = tuple[Batch | None, list[PassedOver]]


def make_batch(infos: Infos, lake: Lake, inputs: StagingInputs, config: Config) -> Made:
    """The batch of these objects, made with an engine of its own, and those that were left out.

    Doing it again, or twice at once, writes the same files.
    """
    config = as_set_here(config)
    with (
        TemporaryDirectory(prefix="motelake-", dir=config.work_folder) as work,
        open_engine(memory=config.memory, threads=config.threads, spill_folder=Path(work)) as engine,
    ):
        return stage_batch(Workbench(lake, engine, Path(work)), infos, inputs)


@told_surroundings("Staging")
def stage_batch(bench: Workbench, infos: Infos, inputs: StagingInputs) -> Made:
    """The batch of these objects, and those that were left out; no batch where all were.

    Its files' names come from what was read, so that a run after a crash writes over what the crash left.
    """
    with Staging(bench.engine, reading_plan(inputs)) as staging:
        objects, passed_over = _read(bench.lake, infos, staging)
    if not objects:
        return None, passed_over
    batch = manifest_id(inputs, [(one.name, one.sha256) for one in objects])
    staged = []
    for day_at in _days(bench.engine):
        name = staged_name(batch, f"{day_at:%Y-%m-%d}")
        _write(bench, read_sql("stage/hearings_of_day"), name, {"day_at": day_at})
        staged.append(name)
    rejects = _write_rejects(bench, LINE_REJECTS, rejects_name(batch))
    reading_rejects = _write_rejects(bench, READING_REJECTS, reading_rejects_name(batch))
    return Batch(batch, tuple(objects), tuple(staged), rejects, reading_rejects), passed_over


def _read(
    lake: Lake, infos: Sequence[ObjectInfo], staging: Staging
) -> tuple[list[StagedObject], list[PassedOver]]:
    locked: dict[str, str] = {}
    accounts = parse_objects(raw_objects(lake, [info.name for info in infos], locked), staging)
    objects: list[StagedObject] = []
    passed_over: list[PassedOver] = []
    for info in infos:
        account = accounts.get(info.name)
        if info.name in locked:
            passed_over.append(PassedOver(info.name, locked[info.name], needs_somebody=True))
        elif account is None:
            passed_over.append(PassedOver(info.name, "it was taken away while it was read."))
        elif account.size != info.size:
            reason = "it is still growing; deliver under another name and rename when done."
            passed_over.append(PassedOver(info.name, reason))
        else:
            objects.append(_account(info, account))
    staging.forget([one.name for one in passed_over if one.name in accounts])
    return objects, passed_over


def raw_objects(lake: Lake, names: Iterable[str], locked: dict[str, str]) -> list[RawObject]:
    """Raw objects to be parsed. One that this user may not read counts as gone, and locked tells why."""

    def open_unless_locked(name: str) -> BinaryIO:
        try:
            return lake.open_stream(name)
        except NotPermittedError as error:
            locked[name] = str(error)
            raise FileNotFoundError(name) from error

    return [RawObject(name, partial(open_unless_locked, name)) for name in names]


def _account(info: ObjectInfo, outcome: ObjectCount | ObjectRefused) -> StagedObject:
    if isinstance(outcome, ObjectRefused):
        return StagedObject(*info, outcome.sha256, Lines(0, 0, 0), refused=outcome.reason)
    return StagedObject(
        *info,
        outcome.sha256,
        Lines(outcome.lines_read, outcome.lines_parsed, outcome.lines_rejected),
        rejected=outcome.rejected,
        reading_rejects=outcome.reading_rejects,
        dropped=outcome.dropped,
    )


def _days(engine: "duckdb.DuckDBPyConnection") -> list[datetime]:
    answer = engine.execute(f"select distinct received_at::date as day from {LINES} order by day")
    return [datetime(day.year, day.month, day.day, tzinfo=UTC) for (day,) in answer.fetchall()]


def _write_rejects(bench: Workbench, table: str, name: str) -> str | None:
    ((rows,),) = bench.engine.execute(f"select count(*) from {table}").fetchall()
    if not rows:
        return None
    _write(bench, f"from {table} order by object, line", name, {})
    return name


def _write(bench: Workbench, statement: str, name: str, parameters: Mapping[str, object]) -> None:
    """Written beside the lake first: DuckDB cannot write to every store, and a store shows no half files."""
    local = bench.work_folder / "part.parquet"
    bench.engine.execute(
        f"copy ({statement}) to {literal(str(local))} (format parquet, compression zstd)", dict(parameters)
    )
    bench.lake.put_file(local, name)
    local.unlink()
