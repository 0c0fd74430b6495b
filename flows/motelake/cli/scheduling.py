"""The flows of a lake on a schedule: served by this process, or by the workers of a Prefect server."""

from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING

import click

from motelake.cli.log import is_json
from motelake.cli.options import Command, configure, lake_argument, say, warehouse_option
from motelake.cli.places import open_lake

if TYPE_CHECKING:
    from prefect.deployments.runner import RunnerDeployment

    from motelake.core.campaign import Campaign


def schedule_options(command: Command) -> Command:
    """What both ways of keeping a schedule share."""
    command = click.option(
        "--hook", metavar="COMMAND", help="What the watch gives its alarms to: a command or a URL."
    )(command)
    command = click.option(
        "--every",
        type=click.FloatRange(min=0.1),
        default=5.0,
        show_default=True,
        metavar="MINUTES",
        help="How often what is new is run.",
    )(command)
    return click.option(
        "--name", help="What Prefect calls the deployments; by default the last part of the lake's name."
    )(command)


@click.command()
@lake_argument
@warehouse_option
@schedule_options
@click.option(
    "--port",
    type=int,
    default=4200,
    show_default=True,
    help="Where Prefect's page is, if it is started here.",
)
def serve(
    *, lake: str | None, warehouse: str | None, name: str | None, every: float, hook: str | None, port: int
) -> None:
    """Run, watch, publish and compact on a schedule while the campaign lasts, all in this one process.

    Where PREFECT_API_URL names a Prefect server the runs are told to it; where it is not set a server is
    started here. Either way its page shows every run, and `rebuild` waits there to be started by hand.

    \b
    Example: motelake serve fair --hook 'mail -s motelake ops@example.org'
    """
    from motelake.jobs.quiet import JSON_LINES, TELEMETRY, quieten_prefect

    quieten_prefect(TELEMETRY | (JSON_LINES if is_json() else {}))
    planned = _plan(lake, warehouse, name=name, every=every, hook=hook)
    from motelake.jobs.serving import serve as serve_flows

    serve_flows(planned, port, say)


@click.command()
@lake_argument
@warehouse_option
@schedule_options
@click.option(
    "--pool", default="motelake", show_default=True, help="The work pool of processes whose workers run it."
)
def deploy(
    *, lake: str | None, warehouse: str | None, name: str | None, every: float, hook: str | None, pool: str
) -> None:
    """Tell the Prefect server at PREFECT_API_URL of the lake's schedule, for its workers to keep.

    Safe to do again: what is there under the same name is replaced.

    \b
    Example: motelake deploy fair --every 10
    """
    from motelake.jobs.quiet import quieten_prefect

    quieten_prefect()
    from motelake.jobs.calling import configured_server
    from motelake.jobs.deployments import register, tell_crashes

    planned = _plan(lake, warehouse, name=name, every=every, hook=hook, pool=pool)
    with configured_server():
        names = register(planned, pool)
        tell_crashes()
    click.echo("\n".join(names))
    say(f"Workers of the pool {pool} run them: prefect worker start --type process --pool {pool}")


def _plan(
    lake: str | None,
    warehouse: str | None,
    *,
    name: str | None,
    every: float,
    hook: str | None,
    pool: str | None = None,
) -> "list[RunnerDeployment]":
    from motelake.core.names import slug
    from motelake.jobs.deployments import deployments
    from motelake.steps.campaign import read

    config = configure(lake, warehouse)
    place = open_lake(config.lake)
    campaign = read(place)
    _tell_span(campaign)
    return deployments(
        place.url,
        str(config.warehouse),
        campaign,
        slug(name or place.url.rstrip("/").rpartition("/")[2]),
        run_every=timedelta(minutes=every),
        hook=hook,
        pool=pool,
    )


def _tell_span(campaign: "Campaign") -> None:
    now = datetime.now(UTC)
    if now < campaign.starts_at:
        say(f"{campaign.title} begins at {campaign.starts_at:%Y-%m-%d %H:%M} UTC; nothing is due before.")
    elif now >= campaign.ends_at:
        say(f"{campaign.title} ended at {campaign.ends_at:%Y-%m-%d %H:%M} UTC; runs are started by hand.")
