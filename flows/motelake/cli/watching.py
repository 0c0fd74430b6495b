"""What is wrong with the fleet and its delivery now."""

from collections.abc import Iterator
from datetime import datetime
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

import click

from motelake.cli.options import configure, lake_argument, report_option, say
from motelake.cli.places import open_lake
from motelake.cli.reports import end_with
from motelake.core.instants import parse_instant
from motelake.core.sentences import counted

if TYPE_CHECKING:
    from motelake.steps.watch import WatchReport


@click.command()
@lake_argument
@report_option
@click.option(
    "--hook",
    metavar="COMMAND",
    help="Give alarms that opened or closed as JSON to this command (standard input) or URL (POST).",
)
@click.option(
    "--at",
    "at",
    metavar="TIME",
    help="Look as if it were this time (RFC 3339), for rehearsals. Bursts stamped later count for nothing, "
    "then and afterwards.",
)
@click.pass_context
def watch(ctx: click.Context, lake: str | None, form: str, hook: str | None, at: str | None) -> None:
    """Tell what is wrong now: gateways, zones and motes gone silent, a delivery that stalled, held objects,
    jumps of rejects or delay, batteries that will not last, disks nearly full.

    Meant to be run every minute; it needs no run before it. Each alarm opens once and closes once. Exit code
    1: an alarm stands.

    \b
    Example: motelake watch fair --hook 'mail -s motelake ops@example.org'
    """
    from motelake.steps.campaign import read
    from motelake.steps.notify import notify
    from motelake.steps.watch import watch as watch_step

    config = configure(lake)
    place = open_lake(config.lake)
    campaign = read(place)

    def tell(report: "WatchReport") -> None:
        if hook is not None and report.news:
            notify(hook, report)

    report = watch_step(place, campaign, config, say, now=_instant(at), tell=tell)
    end_with(ctx, report, form, lambda one: _lines(one, ZoneInfo(campaign.time_zone)))


def _lines(report: "WatchReport", zone: ZoneInfo) -> Iterator[str]:
    until = report.heard_until and f"{report.heard_until.astimezone(zone):%Y-%m-%d %H:%M:%S}"
    for alarm in report.alarms:
        opened = f"{alarm.opened_at.astimezone(zone):%Y-%m-%d %H:%M}"
        yield f"{alarm.state:<6}  {alarm.sentence} (told {opened})"
    standing = sum(alarm.stands for alarm in report.alarms)
    count = counted(standing, "alarm") if standing else "No alarms"
    yield f"{count}; the last burst came at {until or 'no time yet'}."


def _instant(text: str | None) -> datetime | None:
    try:
        return None if text is None else parse_instant(text)
    except ValueError as error:
        raise click.UsageError(f"--at is {text!r}: {error}") from error
