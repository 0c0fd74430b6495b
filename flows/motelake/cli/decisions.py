"""What an operator decides about held raw objects."""

from typing import TYPE_CHECKING

import click

from motelake.cli.options import configure, say, split_lake
from motelake.cli.places import open_lake

if TYPE_CHECKING:
    from motelake.core.decisions import Choice


@click.command()
@click.argument("names", nargs=-1, metavar="[LAKE] OBJECT")
@click.option("--note", help="Why; kept with the decision.")
def admit(names: tuple[str, ...], note: str | None) -> None:
    """Let a held raw object into the warehouse at the next run.

    OBJECT is its name or the end of it. LAKE may be left out where MOTELAKE_LAKE is set: one argument is
    the OBJECT, two are LAKE and OBJECT.

    \b
    Example: motelake admit fair raw/G03/2031-05-09T08.jsonl.gz --note 'rain got in, data is fine'
    """
    _decide(names, "admit", note)


@click.command()
@click.argument("names", nargs=-1, metavar="[LAKE] OBJECT")
@click.option("--note", help="Why; kept with the decision.")
def discard(names: tuple[str, ...], note: str | None) -> None:
    """Keep a held raw object out of the warehouse for good; it stays in raw/.

    OBJECT is its name or the end of it. LAKE may be left out where MOTELAKE_LAKE is set: one argument is
    the OBJECT, two are LAKE and OBJECT.

    \b
    Example: motelake discard fair G03/2031-05-09T08.jsonl.gz
    """
    _decide(names, "discard", note)


def _decide(names: tuple[str, ...], choice: "Choice", note: str | None) -> None:
    from motelake.steps.decide import decide

    lake, wanted = split_lake(names, "[LAKE] OBJECT")
    decide(open_lake(configure(lake).lake), wanted, choice, say, note)
