"""What is in the way of a run, looked for beforehand."""

import click

from motelake.cli.options import configure, lake_argument, report_option, warehouse_option
from motelake.cli.reports import end_with


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
    end_with(
        ctx,
        report,
        form,
        lambda told: [f"{one.state:<5} {one.subject:<10} {one.sentence}" for one in told.findings],
    )
