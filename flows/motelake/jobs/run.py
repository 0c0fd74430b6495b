"""One run as one Prefect flow of four tasks, each a thin coat over a step."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any, TypeVar, cast

from prefect import flow, task
from prefect.cache_policies import NO_CACHE
from prefect.client.schemas.objects import State, TaskRun
from prefect.tasks import Task
from prefect.utilities.annotations import quote

from motelake.config import Config, read_config
from motelake.core.campaign import Campaign
from motelake.errors import LockedError, MotelakeError
from motelake.jobs.listening import say
from motelake.lake.store import Lake
from motelake.steps.campaign import read
from motelake.steps.check import check
from motelake.steps.load import load
from motelake.steps.publish import publish
from motelake.steps.run import RunReport
from motelake.steps.stage import stage

RETRY_DELAYS_S = [2.0, 10.0]

Report = TypeVar("Report")


@dataclass(frozen=True)
class Work:
    """What every task works on; quoted, so that Prefect does not walk through a register of thousands."""

    lake: Lake
    campaign: Campaign
    config: Config
    refresh: tuple[str, ...]


def is_worth_a_retry(_task: Any, _run: TaskRun, state: State[Any]) -> bool:
    """True for faults that may be gone in seconds; a lock is held as long as somebody else's run takes."""
    error = state.result(raise_on_failure=False)
    return isinstance(error, MotelakeError) and error.is_worth_a_retry and not isinstance(error, LockedError)


def coat(name: str, step: Callable[[Work], Report]) -> Task[[Work], Report]:
    """The task of a step: tried again where that may help, never cached, its report kept in memory only."""

    # What a step did stands in the lake and the warehouse; a cached "done" would be a second truth.
    @task(
        name=name,
        retries=len(RETRY_DELAYS_S),
        retry_delay_seconds=RETRY_DELAYS_S,
        retry_condition_fn=is_worth_a_retry,
        cache_policy=NO_CACHE,
        persist_result=False,
    )
    def do(work: Work) -> Report:
        return step(work)

    return do


stage_task = coat("stage", lambda work: stage(work.lake, work.campaign, work.config, say))
check_task = coat("check", lambda work: check(work.lake, work.campaign, work.config, say))
load_task = coat("load", lambda work: load(work.lake, work.campaign, work.config, say))
publish_task = coat("publish", lambda work: publish(work.lake, work.config, say, refresh=work.refresh))


@flow(name="motelake-run", persist_result=False)
def run(
    lake: str | None = None, warehouse: str | None = None, refresh: Sequence[str] = ("run",)
) -> RunReport:
    """Stages, checks, loads and publishes what is new in a lake; what is not named comes from MOTELAKE_*.

    refresh names the kinds of published answers to make again: run, hour, day.
    """
    config = read_config(lake, flags={"warehouse": warehouse})
    place = Lake.open(config.lake)
    # Prefect takes the quotes off before a task sees what is in them.
    work = cast(Work, quote(Work(place, read(place), config, tuple(refresh))))
    return RunReport(stage_task(work), check_task(work), load_task(work), publish_task(work))
