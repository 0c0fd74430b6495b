"""How a report of work done is told: as text or JSON on stdout, and by the exit code."""

from collections.abc import Callable, Iterable
from typing import TYPE_CHECKING, TypeVar

import click

from motelake.cli.output import write_record

if TYPE_CHECKING:
    from motelake.steps.report import Report

NEEDS_ATTENTION = 1


R = TypeVar("R", bound="Report")


def end_with(ctx: click.Context, report: R, form: str, lines: Callable[[R], Iterable[str]]) -> None:
    """Tells the report in its form, and ends the call: 1 where it needs attention."""
    if form == "json":
        write_record(report.to_dict())
    else:
        click.echo("\n".join(lines(report)))
    ctx.exit(NEEDS_ATTENTION if report.needs_attention else 0)
