"""The command's names, each with the file it is in, and what is said above them."""

import os
import sys
from importlib import import_module
from typing import Any

import click

from motelake.cli.log import FORMS, choose_form, name_command
from motelake.errors import UnknownNameError

# What shells report for a program ended by SIGPIPE.
NOBODY_READS = 141

# Said here once more in a few words, so that --help needs none of the files.
COMMANDS = {
    "run": ("running", "stage, check, load and publish what is new"),
    "stage": ("steps", "read what is new in raw/ and write it as Parquet"),
    "check": ("steps", "judge what was staged: it passes, or is held"),
    "load": ("steps", "bring the warehouse up to what passed"),
    "publish": ("steps", "publish what the warehouse holds"),
    "status": ("state", "tell how a lake stands, and what needs you"),
    "watch": ("watching", "tell what is wrong now; run it every minute"),
    "admit": ("decisions", "let a held raw object in"),
    "discard": ("decisions", "keep a held raw object out"),
    "views": ("questions", "list what can be asked, or tell all about one"),
    "show": ("questions", "answer one question of the library"),
    "sql": ("queries", "run one SELECT on what is published"),
    "fingerprint": ("queries", "print one hash a table of the warehouse"),
    "compact": ("steps", "keep files few and healthy; once a night"),
    "rebuild": ("steps", "make the warehouse again from the lake"),
    "serve": ("scheduling", "run all of it on a schedule, in one process"),
    "deploy": ("scheduling", "tell a Prefect server of the schedule, for its workers"),
    "doctor": ("doctoring", "look for what is in the way, and say what to do"),
    "rehearse": ("rehearsing", "invent a campaign, and tell the truth about it"),
    "completion": ("completion", "print what makes your shell complete"),
}

EPILOG = """\b
LAKE is a folder or any fsspec URL such as s3://bucket/fair. Where MOTELAKE_LAKE is set, LAKE may be left
out; given, it is the first argument and wins. MOTELAKE_WAREHOUSE stands for --warehouse, MOTELAKE_MEMORY
and MOTELAKE_THREADS bound what the work may use, MOTELAKE_WORK_FOLDER says where temporary files go.

\b
Exit codes: 0 done; 1 done, but something needs attention (a held or refused object); 2 the call or its
input is wrong; 3 a fault of the surroundings (store, disk, lock), worth a retry;
70 a bug, with its traceback."""


class Commands(click.Group):
    """The commands in the order in which a campaign needs them, each imported when it is asked for."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Every command's name."""
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """The command of this name, None where there is none."""
        if cmd_name not in COMMANDS:
            return None
        module, _ = COMMANDS[cmd_name]
        command: click.Command = getattr(import_module(f"motelake.cli.{module}"), cmd_name)
        return command

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """Writes the commands with a few words each."""
        with formatter.section("Commands"):
            formatter.write_dl([(name, words) for name, (_, words) in COMMANDS.items()])

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """The command that was called; raises UnknownNameError with the nearest match where there is none."""
        if args[0] not in COMMANDS and not args[0].startswith("-"):
            raise UnknownNameError("command", args[0], COMMANDS)
        name_command(args[0])
        return super().resolve_command(ctx, args)

    def invoke(self, ctx: click.Context) -> Any:
        """Runs the command; where whoever reads its output has gone, it ends without a word."""
        try:
            answer = super().invoke(ctx)
            sys.stdout.flush()
        except BrokenPipeError:
            # Python flushes stdout once more at its end, into a pipe that nobody reads.
            os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
            ctx.exit(NOBODY_READS)
        return answer


@click.command(cls=Commands, epilog=EPILOG, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(package_name="motelake", message="motelake %(version)s")
@click.option(
    "--log-format",
    type=click.Choice(FORMS),
    default="text",
    envvar="MOTELAKE_LOG_FORMAT",
    # Eager, so that a mistake in the rest of the call is said in it too.
    is_eager=True,
    expose_value=False,
    callback=lambda _context, _option, form: choose_form(form),
    help="How progress and errors are said on stderr: for people, or a line of JSON each.",
)
def motelake() -> None:
    """From the raw bursts of a temporary sensor network to answers that say how far to trust them."""
