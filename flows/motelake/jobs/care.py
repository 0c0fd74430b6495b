"""What keeps a lake in good order between runs, each as a Prefect flow of one task."""

from collections.abc import Sequence
from dataclasses import replace

from prefect import flow

from motelake.core.published import REFRESHES
from motelake.jobs.listening import say
from motelake.jobs.retries import as_parameter, coat, read_work
from motelake.jobs.run import publish_task
from motelake.jobs.spread import spread
from motelake.jobs.writer import only_writer
from motelake.steps.compact import CompactReport
from motelake.steps.compact import compact as compact_step
from motelake.steps.load import LoadReport
from motelake.steps.publish import PublishReport
from motelake.steps.rebuild import rebuild as rebuild_step
from motelake.steps.restage import stage_again

# A run in between takes minutes; these come once an hour, a night or by hand, and are worth the wait.
WAIT_S = 3600

compact_task = coat("compact", lambda work: compact_step(work.lake, work.campaign, work.config, say))
stage_again_task = coat(
    "stage-again", lambda work: stage_again(work.lake, work.campaign, work.config, say, each=work.each)
)
rebuild_task = coat(
    "rebuild", lambda work: rebuild_step(work.lake, work.campaign, work.config, say, each=work.each)
)


@flow(name="motelake-publish", persist_result=False)
def publish(
    lake: str | None = None, warehouse: str | None = None, refresh: Sequence[str] = ("run", "hour")
) -> PublishReport:
    """Publishes what the warehouse holds, with the slower answers and the page."""
    work = read_work(lake, warehouse, refresh)
    with only_writer(work.lake, WAIT_S):
        return publish_task(as_parameter(work))


@flow(name="motelake-compact", persist_result=False)
def compact(lake: str | None = None, warehouse: str | None = None) -> CompactReport:
    """Puts together the files of days that are over, removes what was replaced a day ago, publishes all."""
    work = read_work(lake, warehouse)
    with only_writer(work.lake, WAIT_S):
        return compact_task(as_parameter(work))


@flow(name="motelake-rebuild", persist_result=False)
def rebuild(lake: str | None = None, warehouse: str | None = None, from_raw: bool = False) -> LoadReport:
    """Makes the warehouse again from what is staged, or from the raw objects, and publishes it."""
    whole = read_work(lake, warehouse, REFRESHES)
    with only_writer(whole.lake, WAIT_S), spread(whole.config) as each:
        work = as_parameter(replace(whole, each=each))
        if from_raw:
            stage_again_task(work)
        report = rebuild_task(work)
        publish_task(work)
    return report
