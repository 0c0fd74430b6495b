"""Ad hoc SQL on what is published, and the fingerprint of a warehouse."""

from pathlib import Path

import click

from motelake.cli.options import (
    configure,
    lake_argument,
    report_option,
    row_options,
    split_lake,
    warehouse_option,
)
from motelake.cli.output import write_record, write_rows
from motelake.cli.places import open_lake, people_zone


@click.command()
@click.argument("names", nargs=-1, metavar="[LAKE] SELECT")
@row_options
def sql(names: tuple[str, ...], form: str, output: Path | None) -> None:
    """Run one SELECT on the published snapshot; nothing can be changed by it.

    It sees the tables and every view of the library. LAKE may be left out where MOTELAKE_LAKE is set:
    one argument is the SELECT, two are LAKE and SELECT.

    \b
    Example: motelake sql fair 'select zone, count(*) from zone_minute group by zone'
    """
    from motelake.steps.query import run_sql

    lake, statement = split_lake(names, "[LAKE] SELECT")
    config = configure(lake)
    place = open_lake(config.lake)
    write_rows(run_sql(place, statement, config), form, output, people_zone(place))


@click.command()
@lake_argument
@warehouse_option
@report_option
def fingerprint(lake: str | None, warehouse: str | None, form: str) -> None:
    """Print one hash a table of the warehouse: equal content, equal hash, however it came in.

    \b
    Example: motelake fingerprint fair --format json
    """
    from motelake.steps.fingerprint import fingerprint_warehouse

    config = configure(lake, warehouse)
    hashes = fingerprint_warehouse(config)
    if form == "json":
        write_record(hashes)
        return
    width = max(map(len, hashes))
    for table, value in hashes.items():
        click.echo(f"{table:<{width}}  {value}")
