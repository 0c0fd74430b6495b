"""What a call says on stderr: sentences for people, or JSON lines for whatever keeps logs."""

import json
from datetime import UTC, datetime

import click

from motelake.core.instants import format_instant

FORMS = ("text", "json")


class _Chosen:
    form = "text"
    command: str | None = None


def choose_form(form: str) -> None:
    """Decides how everything from here on is said."""
    _Chosen.form = form


def name_command(name: str) -> None:
    """Tells which command the rest is said by."""
    _Chosen.command = name


def is_json() -> bool:
    """True where programs read what is said."""
    return _Chosen.form == "json"


def tell(sentence: str, level: str = "info", **more: object) -> None:
    """Says a sentence; more is for programs only.

    A line of JSON has the time, the level, the command and what is said. Settings and environment are never
    in it: they may hold secrets.
    """
    if not is_json():
        click.echo(sentence, err=True)
        return
    at = format_instant(datetime.now(UTC))
    record = {"at": at, "level": level, "command": _Chosen.command, "said": sentence} | more
    click.echo(json.dumps(record, ensure_ascii=False), err=True)
