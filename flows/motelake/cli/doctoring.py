"""What is in the way of a run, looked for beforehand."""

import click

from motelake.cli.options import configure, lake_argument, report_option, warehouse_option
from motelake.cli.output import write_record

NEEDS_ATTENTION = 1


@click.command()
@lake_argument
@warehouse_option
@report_option
@click.pass_context
def doctor(ctx: click.Context, lake: str | None, warehouse: str | None, form: str) -> None:
    """Look over lake, store, disks, versions, clock and permissions, and say what to do.

    It writes two small objects into the lake and removes them again. Exit code 1: something is bad.

    \b
    Example: motelake doctor fair
    """
    from motelake.steps.doctor import doctor as doctor_step

    report = doctor_step(configure(lake, warehouse))
    if form == "json":
        write_record(report.to_dict())
    else:
        for one in report.findings:
            click.echo(f"{one.state:<5} {one.subject:<10} {one.sentence}")
    ctx.exit(NEEDS_ATTENTION if report.needs_attention else 0)
