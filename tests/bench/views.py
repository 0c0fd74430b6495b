"""How long every view takes at its defaults on a published lake, beside plain SQL for the same question.

Each view is asked in a process of its own, several times on one connection of two threads and 2 GB. The
plain statements lie in plain/: what an expert would write for the Depot Fair by hand, in one statement, with
the tables alone and without the library. Where one begins with `-- compared by COLUMNS` it gives the view's
main columns to the same numbers, and both answers are compared; the others say less than the view (no
interval, effective number or cause) and bound its cost from below.
"""

import json
import re
import sys
from pathlib import Path
from statistics import median
from typing import Any

import duckdb

from motelake.library import Entry, read_library

HERE = Path(__file__).parent
ALLOWED_S = {"correlation.screen": 10.0}
ALLOWED_AT_MOST_S = 1.0
TIMES_PLAIN = 2.0
# Of the larger of two numbers, and of the largest of its column where both are next to nothing.
ALLOWED_OF_NUMBER, ALLOWED_OF_COLUMN = 1e-6, 1e-9


def asked_views(names: list[str]) -> list[str]:
    """The views that answer at their defaults, or those among them that are named."""
    offered = [entry.name for entry in read_library().questions() if is_answerable(entry)]
    return [name for name in offered if not names or name in names]


def is_answerable(entry: Entry) -> bool:
    """Whether it needs nothing given, and is an answer rather than a building block of millions of rows."""
    return entry.area not in ("series", "statistics") and not any(p.is_required for p in entry.parameters)


def command(lake: Path, asked: str, times: int, answer: Path) -> list[str]:
    """What asks one view, or one file of plain SQL, and leaves the answer in a Parquet file."""
    return [sys.executable, str(HERE / "views_job.py"), str(lake), asked, str(times), str(answer)]


def plain_of(view: str) -> Path | None:
    """The plain statement beside a view, where there is one."""
    file = HERE / "plain" / f"{view}.sql"
    return file if file.exists() else None


def compared_by(plain: Path) -> list[str]:
    """The columns that tell rows of a plain answer apart; none where it says less than the view."""
    told = re.match(r"-- compared by (.+)", plain.read_text(encoding="utf-8"))
    return told[1].split(", ") if told else []


def differences(answer: Path, plain_answer: Path, keys: list[str]) -> list[str]:
    """In what two answers, as Parquet files, differ: rows that one lacks, and numbers of columns of both."""
    engine = duckdb.connect()
    view = engine.read_parquet(str(answer)).set_alias("v")
    plain = engine.read_parquet(str(plain_answer)).set_alias("p")
    same_row = " and ".join(f'v."{key}" is not distinct from p."{key}"' for key in keys)
    found = []
    for one, other, name in ((view, plain, "view"), (plain, view, "plain SQL")):
        lonely = len(one.join(other, same_row, how="anti"))
        if lonely:
            found.append(f"DIFFERS: {lonely} rows of the {name} alone")
    both = view.join(plain, same_row)
    types = dict(zip(view.columns, view.types, strict=True))
    for column in (name for name in plain.columns if name in types and name not in keys):
        v, p = f'v."{column}"', f'p."{column}"'
        differs = f"{v} is distinct from {p}"
        if types[column] == "DOUBLE":
            largest = both.aggregate(f"max(abs({v}))").fetchall()[0][0] or 0
            allowed = f"{ALLOWED_OF_NUMBER} * greatest(abs({v}), abs({p})) + {ALLOWED_OF_COLUMN * largest}"
            differs = f"({v} is null) <> ({p} is null) or abs({v} - {p}) > {allowed}"
        apart = len(both.filter(differs))
        if apart:
            found.append(f"DIFFERS: {column} of {apart} rows")
    return found


def titles() -> str:
    """The head of the table."""
    return (
        f"{'view':28}{'rows':>8}{'wall s':>8}{'spread':>13}{'CPU s':>8}{'peak MB':>9}"
        f"{'plain s':>9}{'CPU':>7}{'x wall':>8}{'x CPU':>7}"
    )


def row(view: str, told: dict[str, Any], plain: dict[str, Any] | None, said: list[str]) -> str:
    """A line of the table; said is how its answer compares with that of plain SQL."""
    wall, cpu = median(told["wall_s"]), median(told["cpu_s"])
    spread = f"{min(told['wall_s']):.2f}-{max(told['wall_s']):.2f}"
    line = f"{view:28}{told['rows']:8,}{wall:8.2f}{spread:>13}{cpu:8.2f}{told['peak_mb']:9,.0f}"
    if plain:
        plain_wall, plain_cpu = median(plain["wall_s"]), median(plain["cpu_s"])
        line += f"{plain_wall:9.2f}{plain_cpu:7.2f}{wall / plain_wall:8.2f}{cpu / plain_cpu:7.2f}"
    return line + "".join(f"  {mark}" for mark in (*said, *marks(view, wall)))


def marks(view: str, wall: float) -> list[str]:
    """What is too slow about it."""
    allowed = ALLOWED_S.get(view, ALLOWED_AT_MOST_S)
    return [f"SLOWER than {allowed:g} s"] if wall >= allowed else []


def read_told(output: str) -> dict[str, Any]:
    """What a job told in its last line."""
    told: dict[str, Any] = json.loads(output.strip().splitlines()[-1])
    return told
