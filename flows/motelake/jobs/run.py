"""One run as one Prefect flow of four tasks, each a thin coat over a step."""

from collections.abc import Sequence
from dataclasses import replace

from prefect import flow

from motelake.jobs.artifacts import tell_operator
from motelake.jobs.listening import say
from motelake.jobs.retries import as_parameter, coat, read_work
from motelake.jobs.spread import spread
from motelake.jobs.writer import only_writer
from motelake.steps.check import check
from motelake.steps.load import load
from motelake.steps.publish import publish
from motelake.steps.run import RunReport
from motelake.steps.stage import stage

# Less than the time to the next scheduled run, which takes up what this one could not.
WAIT_S = 240

stage_task = coat("stage", lambda work: stage(work.lake, work.campaign, work.config, say, each=work.each))
check_task = coat("check", lambda work: check(work.lake, work.campaign, work.config, say, each=work.each))
load_task = coat("load", lambda work: load(work.lake, work.campaign, work.config, say, each=work.each))
publish_task = coat("publish", lambda work: publish(work.lake, work.config, say, refresh=work.refresh))


@flow(name="motelake-run", persist_result=False)
def run(
    lake: str | None = None, warehouse: str | None = None, refresh: Sequence[str] = ("run",)
) -> RunReport:
    """Stages, checks, loads and publishes what is new in a lake; what is not named comes from MOTELAKE_*.

    refresh names the kinds of published answers to make again: run, hour, day.
    """
    whole = read_work(lake, warehouse, refresh)
    with only_writer(whole.lake, WAIT_S), spread(whole.config) as each:
        work = as_parameter(replace(whole, each=each))
        report = RunReport(stage_task(work), check_task(work), load_task(work), publish_task(work))
    tell_operator(whole.lake, report)
    return report
