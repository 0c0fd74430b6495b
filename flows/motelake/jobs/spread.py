"""Sending what a step does many times to a Dask cluster, through Prefect's task runner.

Tasks may run twice there: a worker that dies takes along what it had done and not yet told. All that is sent
is therefore made so that doing it again changes nothing.
"""

import pickle
from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import AbstractContextManager, contextmanager, nullcontext
from contextvars import Context, copy_context
from functools import partial
from typing import TYPE_CHECKING, Any

from prefect import task
from prefect.cache_policies import NO_CACHE

from motelake.config import Config
from motelake.core.shares import preferred_host
from motelake.errors import SurroundingsError
from motelake.jobs.retries import RETRY_DELAYS_S, is_worth_a_retry
from motelake.steps.each import Each, Item, Outcome, in_turn
from motelake.steps.share import Order

if TYPE_CHECKING:
    from prefect_dask.task_runners import DaskTaskRunner

PATIENCE_S = 30


@task(
    name="share-of-work",
    retries=len(RETRY_DELAYS_S),
    retry_delay_seconds=RETRY_DELAYS_S,
    retry_condition_fn=is_worth_a_retry,
    cache_policy=NO_CACHE,
    persist_result=False,
)
def work(sent: bytes) -> Any:
    """What comes of doing a thing to an item; sent as bytes, so that Prefect does not walk through both."""
    do, item = pickle.loads(sent)
    return do(item)


@contextmanager
def spread(config: Config) -> Iterator[Each]:
    """How steps do many things alike while this lasts: on the configured Dask cluster, else one by one here.

    Raises SurroundingsError where the cluster does not answer or has no worker.
    """
    if config.dask is None:
        yield in_turn
        return
    from prefect_dask.task_runners import DaskTaskRunner

    with DaskTaskRunner(address=config.dask, client_kwargs={"timeout": PATIENCE_S}) as runner:
        _wait_for_workers(runner, config.dask)
        # Prefect sends along in what it was called. Of a step's own task that is the whole campaign.
        yield partial(_each, runner, copy_context())


def _each(
    runner: "DaskTaskRunner", flow: Context, do: Callable[[Item], Outcome], items: Iterable[Item], /
) -> Iterator[Outcome]:
    name = getattr(getattr(do, "func", do), "__name__", "work").replace("_", "-").strip("-")
    workers = _workers_by_host(runner)

    def submit(number: int, item: Item) -> Any:
        with _near_what_it_keeps(item, workers):
            return runner.submit(
                work.with_options(task_run_name=f"{name} {number}"),
                parameters={"sent": pickle.dumps((do, item))},
            )

    futures = [flow.run(submit, number, item) for number, item in enumerate(items, start=1)]
    try:
        for future in futures:
            yield future.result()
    finally:
        # Where one failed, or somebody stopped asking, the others need not begin.
        for future in futures:
            future.wrapped_future.cancel()


def _workers_by_host(runner: "DaskTaskRunner") -> dict[str, list[str]]:
    by_host: dict[str, list[str]] = {}
    for address, worker in runner.client.scheduler_info(n_workers=-1)["workers"].items():
        by_host.setdefault(worker["host"], []).append(address)
    return by_host


def _near_what_it_keeps(item: object, workers: Mapping[str, list[str]]) -> AbstractContextManager[Any]:
    """Asks Dask for the host that keeps the warehouse of a share, or any other where that one is gone."""
    if not isinstance(item, Order) or len(workers) < 2:
        return nullcontext()
    from dask.base import annotate

    return annotate(workers=workers[preferred_host(item.share.name, workers)], allow_other_workers=True)


def _wait_for_workers(runner: "DaskTaskRunner", address: str) -> None:
    try:
        runner.client.wait_for_workers(1, timeout=PATIENCE_S)
    except OSError as error:
        # Of both kinds of silence Dask tells by a TimeoutError.
        raise SurroundingsError(
            f"The Dask cluster at {address} does not answer, or has no worker ({error}). Start both with "
            "'bash infra/cluster', or unset MOTELAKE_DASK and run 'motelake rebuild' to load in one piece."
        ) from error
