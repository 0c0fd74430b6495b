"""Campaigns invented for practice."""

from datetime import datetime
from pathlib import Path
from typing import Any

import click

from motelake.cli.options import report_option, say
from motelake.cli.output import write_record


@click.command()
@click.argument("folder", metavar="DIR", type=click.Path(path_type=Path))
@click.option("--motes", type=int, default=40, show_default=True, help="How many motes.")
@click.option("--days", type=int, default=2, show_default=True, help="How many days.")
@click.option("--seed", type=int, default=1, show_default=True, help="Another seed, another campaign.")
@click.option(
    "--scene",
    type=click.Choice(["depot_fair", "glasshouse"]),
    default="depot_fair",
    show_default=True,
    help="What is invented.",
)
@click.option("--first-date", type=click.DateTime(["%Y-%m-%d"]), help="First day; 2031-05-09 by default.")
@click.option("--burst-period-s", type=float, help="Seconds between bursts; the scene's own by default.")
@click.option("--networks", type=int, help="Mesh networks; about one for 25 motes by default.")
@click.option("--delivery-min", type=int, default=60, show_default=True, help="Minutes in one raw object.")
@click.option("--no-faults", is_flag=True, help="Everything works: no losses, restarts or broken motes.")
@report_option
def rehearse(folder: Path, first_date: datetime | None, no_faults: bool, form: str, **knobs: Any) -> None:
    """Invent a campaign in DIR, and tell the truth about it in DIR-truth.

    The same options always give the same bytes.

    \b
    Example: motelake rehearse fair --motes 40 --days 2 --seed 1
    """
    from dataclasses import asdict, replace

    from motelake.rehearsal import Faults, Plan
    from motelake.rehearsal import rehearse as invent

    plan = Plan(**knobs, faults=Faults.none() if no_faults else Faults())
    if first_date is not None:
        plan = replace(plan, first_date=first_date.date())
    report = invent(folder, plan, say)
    if form == "json":
        write_record({**asdict(report), "lake": str(report.lake), "truth": str(report.truth)})
        return
    size = f"{report.size_bytes / 1e6:.1f} MB"
    click.echo(
        f"{report.lake}: {report.motes:,} motes, {report.bursts:,} bursts, {report.lines:,} lines in "
        f"{report.objects:,} raw objects ({size}), {report.rejects:,} of them to be rejected."
    )
    click.echo(f"The truth is in {report.truth}. Now: motelake run {report.lake}")
