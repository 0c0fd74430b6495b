"""Single steps of a run, without the orchestrator, and the warehouse made again."""

import click

from motelake.cli.options import (
    configure,
    lake_argument,
    refresh_option,
    report_option,
    say,
    warehouse_option,
)
from motelake.cli.places import open_lake
from motelake.cli.reports import end_with
from motelake.cli.sentences import check_lines, compact_lines, load_lines, publish_lines, stage_lines
from motelake.core.published import REFRESHES


@click.command()
@lake_argument
@report_option
@click.pass_context
def stage(ctx: click.Context, lake: str | None, form: str) -> None:
    """Read what is new in raw/ and write it as Parquet, each line accounted for.

    \b
    Example: motelake stage fair
    """
    from motelake.steps.campaign import read
    from motelake.steps.stage import stage as stage_step

    config = configure(lake)
    place = open_lake(config.lake)
    report = stage_step(place, read(place), config, say)
    end_with(ctx, report, form, stage_lines)


@click.command()
@lake_argument
@report_option
@click.pass_context
def check(ctx: click.Context, lake: str | None, form: str) -> None:
    """Judge every staged raw object: it passes, or it is held until you decide.

    \b
    Example: motelake check fair
    """
    from motelake.steps.campaign import read
    from motelake.steps.check import check as check_step

    config = configure(lake)
    place = open_lake(config.lake)
    report = check_step(place, read(place), config, say)
    end_with(ctx, report, form, check_lines)


@click.command()
@lake_argument
@warehouse_option
@report_option
@click.pass_context
def load(ctx: click.Context, lake: str | None, warehouse: str | None, form: str) -> None:
    """Bring the warehouse up to what passed or was admitted, in whole batches.

    \b
    Example: motelake load fair
    """
    from motelake.steps.campaign import read
    from motelake.steps.load import load as load_step

    config = configure(lake, warehouse)
    place = open_lake(config.lake)
    report = load_step(place, read(place), config, say)
    end_with(ctx, report, form, lambda one: load_lines(one, config.lake))


@click.command()
@lake_argument
@warehouse_option
@refresh_option(*REFRESHES)
@report_option
@click.pass_context
def publish(
    ctx: click.Context, lake: str | None, warehouse: str | None, refresh: tuple[str, ...], form: str
) -> None:
    """Publish what the warehouse holds: changed hours, then a new snapshot in one step, answers, the page.

    All answers are made again, those that a run leaves for later too; with --refresh only those of the kinds
    it names. 'motelake views VIEW' tells the kind.

    \b
    Example: motelake publish fair
    Example: motelake publish fair --refresh run
    """
    from motelake.steps.publish import publish as publish_step

    config = configure(lake, warehouse)
    report = publish_step(open_lake(config.lake), config, say, refresh=refresh)
    end_with(ctx, report, form, publish_lines)


@click.command()
@lake_argument
@warehouse_option
@report_option
@click.pass_context
def compact(ctx: click.Context, lake: str | None, warehouse: str | None, form: str) -> None:
    """Put together the small files of days that are over, and remove what was replaced a day ago.

    Meant for the night; answers stay what they are. All published answers and the page are made again.

    \b
    Example: motelake compact fair
    """
    from motelake.steps.campaign import read
    from motelake.steps.compact import compact as compact_step

    config = configure(lake, warehouse)
    place = open_lake(config.lake)
    report = compact_step(place, read(place), config, say)
    end_with(ctx, report, form, compact_lines)


@click.command()
@lake_argument
@warehouse_option
@report_option
@click.option("--from-raw", is_flag=True, help="Read raw/ again as well, instead of what was staged from it.")
@click.pass_context
def rebuild(ctx: click.Context, lake: str | None, warehouse: str | None, form: str, from_raw: bool) -> None:
    """Throw the warehouse away and make it again from the lake, decisions included.

    The old one is there until the new one is whole. What is published stays; the next run or publish brings
    it up to the new warehouse.

    \b
    Example: motelake rebuild fair --from-raw
    """
    from motelake.steps.campaign import read
    from motelake.steps.rebuild import rebuild as rebuild_step

    config = configure(lake, warehouse)
    place = open_lake(config.lake)
    campaign = read(place)
    if from_raw:
        from motelake.steps.restage import stage_again

        stage_again(place, campaign, config, say)
    report = rebuild_step(place, campaign, config, say)
    end_with(ctx, report, form, lambda one: load_lines(one, config.lake))
