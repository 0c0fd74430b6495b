"""How a call of the command ends: its exit code, and a sentence instead of a traceback for what is no bug."""

import sys
import traceback
from collections.abc import Sequence

import click

from motelake.cli.commands import motelake
from motelake.errors import MotelakeError

WRONG_CALL = 2
# What shells report for a program ended by SIGINT.
INTERRUPTED = 130
# Python would end with 1, which says here that the work is done. 70 is EX_SOFTWARE of sysexits.h.
BUG = 70


def main(arguments: Sequence[str] | None = None) -> None:
    """Runs one call of the command and ends the process with its exit code."""
    sys.exit(_run(arguments))


def _run(arguments: Sequence[str] | None) -> int:
    try:
        code = motelake.main(arguments, prog_name="motelake", standalone_mode=False)
    except MotelakeError as error:
        click.echo(f"motelake: {error}", err=True)
        return error.exit_code
    except click.ClickException as error:
        error.show()
        return WRONG_CALL
    except click.Abort:
        click.echo("motelake: stopped. Nothing is half-done: the same command goes on from here.", err=True)
        return INTERRUPTED
    except Exception:
        traceback.print_exc()
        return BUG
    return code if isinstance(code, int) else 0
