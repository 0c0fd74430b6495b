"""How a call of the command ends: its exit code, and a sentence instead of a traceback for what is no bug."""

import sys
import traceback
from collections.abc import Sequence

import click

from motelake.cli.commands import motelake
from motelake.cli.log import is_json, tell
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
        _tell(str(error), error.exit_code)
        return error.exit_code
    except click.ClickException as error:
        if is_json():
            _tell(error.format_message(), WRONG_CALL)
        else:
            error.show()
        return WRONG_CALL
    except click.Abort:
        _tell("stopped. Nothing is half-done: the same command goes on from here.", INTERRUPTED)
        return INTERRUPTED
    except Exception as error:
        if is_json():
            _tell(f"This is a bug: {error!r}", BUG, traceback=traceback.format_exc())
        else:
            traceback.print_exc()
        return BUG
    return code if isinstance(code, int) else 0


def _tell(sentence: str, exit_code: int, **more: object) -> None:
    if is_json():
        tell(sentence, "error", exit_code=exit_code, **more)
    else:
        tell(f"motelake: {sentence}")
