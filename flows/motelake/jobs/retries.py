"""The coat of a step: a Prefect task that tries again where that may help."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any, TypeVar, cast

from prefect import task
from prefect.cache_policies import NO_CACHE
from prefect.client.schemas.objects import State, TaskRun
from prefect.tasks import Task
from prefect.utilities.annotations import quote

from motelake.config import Config, read_config
from motelake.core.campaign import Campaign
from motelake.errors import LockedError, MotelakeError
from motelake.lake.store import Lake
from motelake.steps.campaign import read
from motelake.steps.each import Each, in_turn

RETRY_DELAYS_S = [2.0, 10.0]

Report = TypeVar("Report")


@dataclass(frozen=True)
class Work:
    """What every task works on."""

    lake: Lake
    campaign: Campaign
    config: Config
    refresh: tuple[str, ...]
    each: Each = in_turn
    """Where steps do what they do many times."""


def read_work(lake: str | None, warehouse: str | None, refresh: Sequence[str] = ()) -> Work:
    """What there is to work on; what is not named comes from MOTELAKE_*."""
    config = read_config(lake, warehouse)
    place = Lake.open(config.lake)
    return Work(place, read(place), config, tuple(refresh))


def as_parameter(work: Work) -> Work:
    """The same, quoted: Prefect is not to walk through a register of thousands, and takes the quotes off."""
    return cast(Work, quote(work))


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
