"""What an operator reads on Prefect's page about a lake: the last batches, what is held, the fleet.

Only runs of a deployment tell it, under keys that begin with the deployment's name, so that each is one page
with a history.
"""

from contextlib import closing
from typing import Any

from prefect.artifacts import create_markdown_artifact, create_table_artifact
from prefect.runtime import deployment

from motelake.core.account import sum_by_name
from motelake.core.instants import format_instant
from motelake.core.names import slug
from motelake.core.sentences import counted
from motelake.lake.store import Lake
from motelake.steps.answers import published_rows
from motelake.steps.read import open_snapshot
from motelake.steps.run import RunReport

BATCHES_TOLD = 20
MOTES_TOLD = 40
MISSED = ("silent", "never heard")

_BATCHES = f"""
select batch, state, objects, read, parsed, rejected, made_at, loaded_at
from batch order by batch desc limit {BATCHES_TOLD}
"""
_HELD = "select object, verdict from raw_object where state = 'held' order by object"


def tell_operator(lake: Lake, report: RunReport) -> None:
    """Puts the three artifacts of a run where a deployment made it and something new was published."""
    if not deployment.id or not report.publish.is_new:
        return
    name = slug(deployment.name)
    with closing(open_snapshot(lake)) as snapshot:
        batches = snapshot.execute(_BATCHES)
        columns = [column[0] for column in batches.description or ()]
        rows = [dict(zip(columns, map(_cell, row), strict=True)) for row in batches.fetchall()]
        held = snapshot.execute(_HELD).fetchall()
    create_table_artifact(rows, key=f"{name}-batches", description="The last batches, the newest first.")
    create_markdown_artifact(held_text(lake.url, held), key=f"{name}-held", description="What waits for you.")
    fleet = published_rows(lake, report.publish.snapshot)("fleet.state") or []
    create_markdown_artifact(fleet_text(fleet), key=f"{name}-fleet", description="The motes at a glance.")


def held_text(lake: str, held: list[tuple[str, str | None]]) -> str:
    """Held objects with the reasons, and the calls that decide, as Markdown."""
    if not held:
        return "Nothing is held."
    lines = [f"{counted(len(held), 'raw object')} held. Decide on each with one of the calls:\n"]
    for name, verdict in held:
        lines.append(f"- `{name}`: {verdict or 'no reason on record'}")
        lines.append(f"  `motelake admit {lake} {name}` or `motelake discard {lake} {name}`")
    return "\n".join(lines)


def fleet_text(motes: list[dict[str, Any]]) -> str:
    """Motes by state, and those that are not heard as they should be, as Markdown."""
    if not motes:
        return "No mote is known yet."
    counts = sum_by_name({mote["state"]: 1} for mote in motes)
    lines = ["| state | motes |", "| --- | ---: |"]
    lines += [f"| {state} | {count} |" for state, count in counts.items()]
    missed = [mote for mote in motes if mote["state"] in MISSED]
    if missed:
        lines += [
            "",
            "| mote | network | zone | state | last heard (UTC) |",
            "| --- | --- | --- | --- | --- |",
        ]
        for mote in missed[:MOTES_TOLD]:
            cells = (mote["mote"], mote["network"], mote["zone"], mote["state"], _cell(mote["last_heard_at"]))
            lines.append("| " + " | ".join("" if cell is None else str(cell) for cell in cells) + " |")
    if len(missed) > MOTES_TOLD:
        lines.append(f"\nand {len(missed) - MOTES_TOLD} more: `motelake show LAKE fleet.state`")
    return "\n".join(lines)


def _cell(value: Any) -> Any:
    return format_instant(value) if hasattr(value, "tzinfo") else value
