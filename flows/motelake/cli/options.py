"""Arguments and options that commands share."""

import os
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from motelake.cli.log import tell
from motelake.core.published import REFRESHES

if TYPE_CHECKING:
    from motelake.config import Config

Command = TypeVar("Command", bound=Callable[..., Any])

ROW_FORMATS = ("text", "json", "csv", "parquet")


def lake_argument(command: Command) -> Command:
    """The LAKE of a command that takes nothing else, which MOTELAKE_LAKE may stand for."""
    return click.argument("lake", required=False)(command)


def warehouse_option(command: Command) -> Command:
    """The --warehouse of commands that open it."""
    return click.option(
        "--warehouse",
        metavar="FILE",
        help="The DuckDB file to work in; by default beside a local lake (MOTELAKE_WAREHOUSE).",
    )(command)


def report_option(command: Command) -> Command:
    """The --format of commands that report on their work."""
    return click.option(
        "--format",
        "form",
        type=click.Choice(["text", "json"]),
        default="text",
        show_default=True,
        help="How the report is printed.",
    )(command)


def refresh_option(*usual: str) -> Callable[[Command], Command]:
    """The --refresh of commands that publish answers; usual are the kinds unless told otherwise."""

    def option(command: Command) -> Command:
        return click.option(
            "--refresh",
            type=click.Choice(REFRESHES),
            multiple=True,
            default=usual,
            show_default=True,
            help="Which published answers are made again; may be given more than once.",
        )(command)

    return option


def row_options(command: Command) -> Command:
    """The --format and --output of commands that print rows."""
    command = click.option(
        "--output",
        type=click.Path(dir_okay=False, path_type=Path),
        metavar="FILE",
        help="Write to this file instead.",
    )(command)
    return click.option(
        "--format",
        "form",
        type=click.Choice(ROW_FORMATS),
        default="text",
        show_default=True,
        help="How rows are printed: text for people, the others for programs (times in UTC).",
    )(command)


def split_lake(names: Sequence[str], usage: str) -> tuple[str | None, str]:
    """The lake, None where MOTELAKE_LAKE stands for it, and the one argument that follows it.

    Raises click.UsageError where there are too few or too many.
    """
    if len(names) == 2:
        return names[0], names[1]
    if len(names) == 1 and os.environ.get("MOTELAKE_LAKE"):
        return None, names[0]
    without = "" if os.environ.get("MOTELAKE_LAKE") else " MOTELAKE_LAKE is not set, so LAKE is needed."
    raise click.UsageError(f"This command takes {usage}; {len(names)} arguments were given.{without}")


def configure(lake: str | None, warehouse: str | None = None) -> "Config":
    """The settings of this call."""
    from motelake.config import read_config

    return read_config(lake, warehouse)


def say(sentence: str) -> None:
    """Says a sentence of progress, or a notice, on stderr."""
    tell(sentence)
