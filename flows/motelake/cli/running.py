"""The whole run as a Prefect flow, and what a person wants to know of it."""

from collections.abc import Sequence
from functools import partial
from typing import TYPE_CHECKING

import click

from motelake.cli.options import (
    configure,
    lake_argument,
    refresh_option,
    report_option,
    say,
    warehouse_option,
)
from motelake.cli.places import open_lake
from motelake.cli.reports import end_with
from motelake.cli.sentences import check_lines, load_lines, publish_lines, stage_lines

if TYPE_CHECKING:
    from motelake.config import Config
    from motelake.steps.run import RunReport


@click.command()
@lake_argument
@warehouse_option
@refresh_option("run")
@report_option
@click.pass_context
def run(
    ctx: click.Context, lake: str | None, warehouse: str | None, refresh: tuple[str, ...], form: str
) -> None:
    """Stage, check, load and publish what is new, as one flow of Prefect.

    It is told to the Prefect server that PREFECT_API_URL or your Prefect profile names; where there is none,
    Prefect runs inside this process and nothing needs to be started.

    \b
    Example: motelake run fair
    Example: motelake run fair --refresh run --refresh hour
    """
    from motelake.steps.campaign import read

    config = configure(lake, warehouse)
    place = open_lake(config.lake)
    # Mistakes in the campaign's files are told before Prefect, which takes seconds, is started.
    campaign = read(place)
    say(f"{campaign.title}: {place.url}")
    report = _run_flow(config, refresh)
    end_with(ctx, report, form, lambda one: summary(one, place.url, config))


def summary(report: "RunReport", lake: str, config: "Config") -> list[str]:
    """What came in, what was rejected, what is held, and where the answers are."""
    return [
        *stage_lines(report.stage),
        *check_lines(report.check),
        *load_lines(report.load, lake),
        *publish_lines(report.publish),
        f"Snapshot: {lake}/published/current.json",
        f"Warehouse: {config.warehouse}",
    ]


def _run_flow(config: "Config", refresh: Sequence[str]) -> "RunReport":
    from motelake.jobs.quiet import quieten_prefect

    quieten_prefect()
    from motelake.jobs.calling import call_flow
    from motelake.jobs.run import run as flow

    return call_flow(partial(flow, config.lake, str(config.warehouse), list(refresh)), say)
