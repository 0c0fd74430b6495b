"""How a lake stands, at a glance."""

from collections.abc import Iterator
from datetime import datetime
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

import click

from motelake.cli.cells import people_cell
from motelake.cli.options import configure, lake_argument, report_option, warehouse_option
from motelake.cli.places import open_lake
from motelake.cli.reports import end_with
from motelake.cli.sentences import SHOWN, by_size
from motelake.core.sentences import counted

if TYPE_CHECKING:
    from motelake.steps.disk import DiskUse
    from motelake.steps.status import Status


@click.command()
@lake_argument
@warehouse_option
@report_option
@click.pass_context
def status(ctx: click.Context, lake: str | None, warehouse: str | None, form: str) -> None:
    """Tell how a lake stands: lines and batches, what is held and why, the fleet, what is published.

    It never waits for a run that is at work. Exit code 1: something waits for your decision.

    \b
    Example: motelake status fair --format json
    """
    from motelake.steps.campaign import read
    from motelake.steps.status import status as status_step

    config = configure(lake, warehouse)
    place = open_lake(config.lake)
    campaign = read(place)
    report = status_step(place, campaign, config)
    end_with(ctx, report, form, lambda one: _lines(one, place.url, ZoneInfo(campaign.time_zone)))


def _lines(report: "Status", lake: str, zone: ZoneInfo) -> list[str]:
    return [
        f"{report.title}: {lake}  (times in {zone.key})",
        "",
        *(f"{title:<11}{text}".rstrip() for title, text in _glance(report, zone)),
        *_attention(report, lake),
    ]


def _glance(report: "Status", zone: ZoneInfo) -> Iterator[tuple[str, str]]:
    lines = report.lines
    yield (
        "Lines",
        f"{lines['read']:,} read = {lines['staged']:,} staged + {lines['duplicates']:,} duplicates "
        f"+ {lines['rejected']:,} rejected",
    )
    if report.rejects:
        yield "Rejected", by_size(report.rejects)
    if report.reading_rejects:
        yield (
            "",
            f"{counted(report.reading_rejects, 'single reading')} besides; the rest of their bursts is kept",
        )
    if report.dropped:
        yield "Dropped", f"fields that no measure takes: {by_size(report.dropped)}"
    yield "Batches", by_size(report.batches) or "none yet"
    yield "Objects", by_size(report.objects) or "none yet"
    waiting = {f"to {step}" if step != "decision" else "held": n for step, n in report.waiting.items() if n}
    yield "Waiting", by_size(waiting) or "nothing"
    yield "Fleet", _fleet(report, zone)
    yield "Snapshot", _snapshot(report, zone)
    state = _bytes(report.disk.warehouse) if report.warehouse["is_there"] else "not made yet"
    yield "Warehouse", f"{report.warehouse['file']} ({state})"
    yield "Disk", disk_sentence(report.disk)


def disk_sentence(disk: "DiskUse") -> str:
    """What the lake takes, area by area, and what is free."""
    areas = ", ".join(f"{area} {_bytes(size)}" for area, size in disk.lake.items() if size)
    free = "" if disk.free is None else f"; {_bytes(disk.free)} free where the warehouse is"
    return f"lake {_bytes(sum(disk.lake.values()))}{f' ({areas})' if areas else ''}{free}"


def _bytes(size: int) -> str:
    return f"{size / 1e9:,.1f} GB" if size >= 10**9 else f"{size / 1e6:,.1f} MB"


def _fleet(report: "Status", zone: ZoneInfo) -> str:
    text = counted(report.fleet["motes"], "mote")
    if "states" not in report.fleet:
        return text + ", nothing published yet"
    text += f": {by_size(report.fleet['states'])}"
    if report.fleet["last_heard_at"] is not None:
        text += f"; last heard {_time(report.fleet['last_heard_at'], zone)}"
    silent = report.fleet["silent"]
    if silent:
        text += f"; silent: {', '.join(silent[:SHOWN])}{', ...' if len(silent) > SHOWN else ''}"
    return text


def _snapshot(report: "Status", zone: ZoneInfo) -> str:
    snapshot = report.snapshot
    if snapshot is None:
        return "none published yet"
    text = f"{snapshot['id']}, made {_time(snapshot['made_at'], zone)}"
    if snapshot["data_from"] is None:
        return text + ", without a burst"
    return f"{text}, bursts from {_time(snapshot['data_from'], zone)} to {_time(snapshot['data_to'], zone)}"


def _attention(report: "Status", lake: str) -> Iterator[str]:
    if report.held:
        yield "\nHeld"
        for name, why in report.held_because.items():
            yield f"  {name}: {why}"
        yield f"  Decide: motelake admit {lake} OBJECT, or motelake discard {lake} OBJECT."
    if report.refused:
        yield "\nRefused"
        yield from (f"  {sentence}" for sentence in report.refused)


def _time(instant: datetime, zone: ZoneInfo) -> str:
    return people_cell(instant, zone, has_seconds=False)
