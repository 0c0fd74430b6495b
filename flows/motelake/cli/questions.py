"""The library of views: what can be asked, and the answers."""

import re
from pathlib import Path

import click
from click.shell_completion import CompletionItem

from motelake.cli.options import configure, report_option, row_options, say, split_lake
from motelake.cli.output import write_record, write_rows
from motelake.cli.places import open_lake, people_zone

_GIVEN = re.compile(r"(?P<name>[A-Za-z_][A-Za-z0-9_]*)=(?P<value>.*)", re.DOTALL)


def complete_view(ctx: click.Context, parameter: click.Parameter, incomplete: str) -> list[CompletionItem]:
    """Names of views and of their parameters that begin like what was typed."""
    from motelake.library import read_library

    library = read_library()
    typed = list(ctx.params.get(parameter.name or "") or ())
    named = [library.entries[one] for one in typed if one in library.entries]
    if named:
        return [
            CompletionItem(f"{one.name}=", help=one.doc)
            for one in named[-1].parameters
            if one.name.startswith(incomplete)
        ]
    views = [
        CompletionItem(entry.name, help=entry.question)
        for entry in sorted(library.questions(), key=lambda one: one.name)
        if entry.name.startswith(incomplete)
    ]
    return views or [CompletionItem(incomplete, type="dir")]


@click.command()
@click.argument("name", required=False, shell_complete=complete_view)
@report_option
def views(name: str | None, form: str) -> None:
    """List the questions that can be asked, or tell all about one of them.

    \b
    Example: motelake views
    Example: motelake views correlation.lagged
    """
    from motelake.cli.descriptions import describe, listing, record
    from motelake.library import read_library

    library = read_library()
    if form == "json":
        entries = [library.find(name)] if name else library.questions()
        write_record([record(entry) for entry in entries])
    elif name:
        click.echo(describe(library.find(name)))
    else:
        click.echo(listing(library.questions()))


@click.command()
@click.argument("names", nargs=-1, metavar="[LAKE] VIEW [NAME=VALUE]...", shell_complete=complete_view)
@row_options
@click.option(
    "--plot",
    type=click.Path(dir_okay=False, path_type=Path),
    metavar="FILE",
    help="Draw the answer into FILE instead of printing it: .svg, .png or .html.",
)
def show(names: tuple[str, ...], form: str, output: Path | None, plot: Path | None) -> None:
    """Answer one question of the library from the published snapshot.

    'motelake views' lists the questions, 'motelake views VIEW' tells a question's parameters. LAKE may be
    left out where MOTELAKE_LAKE is set: one argument without '=' is the VIEW, two are LAKE and VIEW.

    \b
    Example: motelake show fair fleet.state
    Example: motelake show fair correlation.lagged measure_a=motion max_lag_min=60
    Example: motelake show fair change.since_baseline measure=sound --plot sound.svg
    """
    from motelake.cli.descriptions import footnotes
    from motelake.library import read_library
    from motelake.steps.read import ask

    places, given = _split_given(names)
    lake, view = split_lake(places, "[LAKE] VIEW [NAME=VALUE]...")
    # A wrong name is told before a lake is looked for.
    library = read_library()
    entry = library.find(view)
    config = configure(lake)
    place = open_lake(config.lake)
    if plot is not None:
        from motelake.steps.plot import plot as plot_answer

        plot_answer(place, view, given, plot, config)
        return
    table = ask(place, view, given, library=library)
    write_rows(table, form, output, people_zone(place))
    if table.num_rows == 0:
        from motelake.steps.emptiness import why_empty

        say(f"{view} has no rows: {why_empty(place, entry, given) or 'nothing in the snapshot fits'}.")
    if form == "text":
        from motelake.cli.sketches import is_for_a_person, sketch

        sketched = sketch(view, table) if output is None and is_for_a_person() else ""
        if sketched:
            click.echo(f"\n{sketched}")
        click.echo(footnotes(entry), err=output is not None)


def _split_given(names: tuple[str, ...]) -> tuple[list[str], dict[str, str]]:
    """Arguments as they stand, and those written name=value, which come last."""
    places: list[str] = []
    given: dict[str, str] = {}
    for text in names:
        match = _GIVEN.fullmatch(text)
        if match is None:
            if given:
                raise click.UsageError(f"{text!r} stands behind a parameter; write parameters as name=value.")
            places.append(text)
        elif match["name"] in given:
            raise click.UsageError(f"{match['name']} is given twice.")
        else:
            given[match["name"]] = match["value"]
    return places, given
