"""How long every view takes at its defaults on a published lake, beside plain SQL for the same question.

Each view is asked in a process of its own, several times on one connection of two threads and 2 GB. The
plain statements lie in plain/: what an analyst would write without the library, with the tables alone. They
give the main figure of the view (no interval, effective number or cause), so they bound its cost from below.
They name the measures of the Depot Fair, and ask for a lake of it.
"""

import json
import sys
from pathlib import Path
from statistics import median
from typing import Any

from motelake.library import Entry, read_library

HERE = Path(__file__).parent
ALLOWED_S = {"correlation.screen": 10.0}
ALLOWED_AT_MOST_S = 1.0
TIMES_PLAIN = 2.0


def asked_views(names: list[str]) -> list[str]:
    """The views that answer at their defaults, or those among them that are named."""
    offered = [entry.name for entry in read_library().questions() if is_answerable(entry)]
    return [name for name in offered if not names or name in names]


def is_answerable(entry: Entry) -> bool:
    """Whether it needs nothing given, and is an answer rather than a building block of millions of rows."""
    return entry.area not in ("series", "statistics") and not any(p.is_required for p in entry.parameters)


def command(lake: Path, asked: str, times: int) -> list[str]:
    """What asks one view, or one file of plain SQL."""
    return [sys.executable, str(HERE / "views_job.py"), str(lake), asked, str(times)]


def plain_of(view: str) -> Path | None:
    """The plain statement beside a view, where there is one."""
    file = HERE / "plain" / f"{view}.sql"
    return file if file.exists() else None


def titles() -> str:
    """The head of the table."""
    return (
        f"{'view':28}{'rows':>8}{'wall s':>8}{'spread':>13}{'CPU s':>8}{'peak MB':>9}"
        f"{'plain s':>9}{'CPU':>7}{'x wall':>8}{'x CPU':>7}"
    )


def row(view: str, told: dict[str, Any], plain: dict[str, Any] | None) -> str:
    """A line of the table."""
    wall, cpu = median(told["wall_s"]), median(told["cpu_s"])
    spread = f"{min(told['wall_s']):.2f}-{max(told['wall_s']):.2f}"
    line = f"{view:28}{told['rows']:8,}{wall:8.2f}{spread:>13}{cpu:8.2f}{told['peak_mb']:9,.0f}"
    if plain:
        plain_wall, plain_cpu = median(plain["wall_s"]), median(plain["cpu_s"])
        line += f"{plain_wall:9.2f}{plain_cpu:7.2f}{wall / plain_wall:8.2f}{cpu / plain_cpu:7.2f}"
    return line + "".join(f"  {mark}" for mark in marks(view, wall))


def marks(view: str, wall: float) -> list[str]:
    """What is too slow about it."""
    allowed = ALLOWED_S.get(view, ALLOWED_AT_MOST_S)
    return [f"SLOWER than {allowed:g} s"] if wall >= allowed else []


def read_told(output: str) -> dict[str, Any]:
    """What a job told in its last line."""
    told: dict[str, Any] = json.loads(output.strip().splitlines()[-1])
    return told
