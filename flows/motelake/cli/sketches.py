"""Answers sketched in block characters below their rows on a terminal: a line of blocks for each course.

No colour and no cursor codes, and nothing at all where the output goes to a pipe or a file.
"""

import shutil
import sys
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import pyarrow as pa

BLOCKS = "▁▂▃▄▅▆▇█"
MOST_LINES = 12
_LONGEST_NAME = 32


@dataclass(frozen=True)
class Course:
    """A column's values along another, one line for each combination of the naming columns."""

    value: str
    along: str
    names: tuple[str, ...] = ()
    is_on_one_scale: bool = True


COURSES: Mapping[str, Course] = {
    "change.day_over_day": Course("change", "at", ("zone", "measure"), is_on_one_scale=False),
    "change.since_baseline": Course("change", "at", ("zone", "measure"), is_on_one_scale=False),
    "correlation.lagged": Course("r", "lag_min"),
    "correlation.over_time": Course("r", "at"),
    "correlation.with_context": Course("r", "lag_min"),
    "event_window.average_course": Course("value", "offset_min", ("kind", "measure"), is_on_one_scale=False),
    "air.moisture": Course("dew_point_c", "minute_at", ("zone",)),
    "fleet.delivery": Course("delivered_share", "at", ("mote",)),
    "flow.share_of_venue": Course("share_of_venue", "at", ("zone",)),
    "flow.steps_by_level": Course("steps", "at", ("level",)),
}
# What is told by its length: the column, and those that name it.
BARS: Mapping[str, tuple[str, tuple[str, ...]]] = {
    "correlation.by_mote": ("r_without", ("mote",)),
    "correlation.screen": ("r", ("measure_a", "place_a", "measure_b", "place_b")),
    "event_window.ranking": ("effect", ("event",)),
    "event_window.response": ("effect", ("event",)),
    "fleet.misplaced": ("doubt", ("mote", "zone")),
    "fleet.silence": ("bursts_missed", ("mote", "zone")),
    "flow.surges": ("r", ("from_zone", "to_zone")),
}


def is_for_a_person() -> bool:
    """True where what is printed goes to a terminal that can show blocks."""
    return sys.stdout.isatty() and "utf" in (sys.stdout.encoding or "").lower()


def sketch(view: str, table: "pa.Table", columns: int | None = None) -> str:
    """The answer in a few lines of blocks; empty where the question has no such form or there are no rows.

    columns is the width of the terminal, by default that of this one.
    """
    width = columns or shutil.get_terminal_size().columns
    if view in COURSES:
        return "\n".join(_courses(COURSES[view], table, width))
    if view in BARS:
        value, names = BARS[view]
        return "\n".join(_bars(value, names, table, width))
    return ""


def line_of(values: Sequence[float | None], width: int, low: float, high: float) -> str:
    """Values as blocks between two bounds, at most so many: of those that share one the furthest is kept.

    A value that is missing is a blank.
    """
    middle = (low + high) / 2
    count = min(width, len(values))
    shown = []
    for place in range(count):
        start, end = place * len(values) // count, (place + 1) * len(values) // count
        heard = [value for value in values[start:end] if value is not None]
        if heard:
            value = max(heard, key=lambda one: (abs(one - middle), one))
            share = (value - low) / (high - low) if high > low else 0.0
            shown.append(BLOCKS[min(len(BLOCKS) - 1, int(share * len(BLOCKS)))])
        else:
            shown.append(" ")
    return "".join(shown)


def _courses(course: Course, table: "pa.Table", width: int) -> list[str]:
    # In the order of the answer, which puts first what matters most.
    kept = list(dict.fromkeys(_named(table, course.names)))[:MOST_LINES]
    values: dict[str, list[float | None]] = {name: [] for name in kept}
    ordered = table.sort_by(course.along)
    for name, value in zip(_named(ordered, course.names), ordered[course.value].to_pylist(), strict=True):
        if name in values:
            values[name].append(None if value is None else float(value))
    heard = [value for line in values.values() for value in line if value is not None]
    if not heard:
        return []
    margin = max(map(len, kept))
    room = max(8, width - margin - 24)
    sketched = []
    for name, line in values.items():
        own = heard if course.is_on_one_scale else [value for value in line if value is not None]
        if own:
            low, high = min(own), max(own)
            bounds = f"{low:.4g} to {high:.4g}"
            sketched.append(f"{name.ljust(margin)}  {line_of(line, room, low, high)}  {bounds}".lstrip())
    return sketched


def _bars(value: str, names: Sequence[str], table: "pa.Table", width: int) -> list[str]:
    rows = [
        (name, float(one))
        for name, one in zip(_named(table, names), table[value].to_pylist(), strict=True)
        if one is not None
    ][:MOST_LINES]
    if not rows:
        return []
    margin = max(len(name) for name, _ in rows)
    room = max(8, width - margin - 14)
    most = max(abs(one) for _, one in rows) or 1.0
    # A bar says how much, the number before it which way.
    return [
        f"{name.ljust(margin)}  {one:>9.4g}  {BLOCKS[-1] * max(1, round(abs(one) / most * room))}"
        for name, one in rows
    ]


def _named(table: "pa.Table", columns: Sequence[str]) -> list[str]:
    if not columns:
        return [""] * table.num_rows
    parts = zip(*(table[column].to_pylist() for column in columns), strict=True)
    return [_short(" ".join(str(part) for part in row if part is not None)) for row in parts]


def _short(name: str) -> str:
    shown = "".join(sign if sign.isprintable() else " " for sign in name)
    return shown if len(shown) <= _LONGEST_NAME else shown[: _LONGEST_NAME - 1] + "…"
