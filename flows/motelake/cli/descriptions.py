"""What the library says about its questions, for people and for programs."""

from collections.abc import Iterator, Sequence
from dataclasses import asdict
from shutil import get_terminal_size
from textwrap import fill
from typing import Any

from motelake.library import Entry, Parameter

WIDTH_AT_MOST = 110
MADE_AGAIN = {
    "run": "at every run",
    "hour": "by motelake publish, and where a run is told --refresh hour",
    "day": "by motelake publish, and where a run is told --refresh day",
    "asked": "whenever it is asked for",
}


def listing(entries: Sequence[Entry]) -> str:
    """Every question under its area."""
    lines: list[str] = []
    width = max((len(entry.name) for entry in entries), default=0)
    for area in sorted({entry.area for entry in entries}):
        lines.append(area)
        for entry in sorted((one for one in entries if one.area == area), key=lambda one: one.name):
            lines.append(_folded(f"  {entry.name:<{width}}  {entry.question}", " " * (width + 4)))
        lines.append("")
    lines.append("Ask one with 'motelake show LAKE NAME'; 'motelake views NAME' tells all about it.")
    return "\n".join(lines)


def describe(entry: Entry) -> str:
    """All that is said about one question."""
    blocks = [f"{entry.name}\n{_folded(entry.question)}", f"Grain: {entry.grain}"]
    if entry.parameters:
        blocks.append("Parameters\n" + "\n".join(_parameter_lines(entry.parameters)))
    width = max(len(column.name) for column in entry.columns)
    blocks.append(
        "Columns\n"
        + "\n".join(
            _folded(f"  {one.name:<{width}}  {one.doc}{_unit(one.unit)}", " " * (width + 4))
            for one in entry.columns
        )
    )
    for title, text in (
        ("Method", entry.method),
        ("Source", entry.source),
        ("How it could mislead", entry.misleads),
        ("Made again", MADE_AGAIN[entry.refresh]),
    ):
        if text:
            blocks.append(_folded(f"{title}: {text}"))
    return "\n\n".join(blocks)


def record(entry: Entry) -> dict[str, Any]:
    """The same for programs."""
    return {
        "name": entry.name,
        "question": entry.question,
        "grain": entry.grain,
        "parameters": [asdict(one) for one in entry.parameters],
        "columns": [asdict(one) for one in entry.columns],
        "method": entry.method,
        "source": entry.source,
        "misleads": entry.misleads,
        "refresh": entry.refresh,
    }


def footnotes(entry: Entry) -> str:
    """What an answer rests on and how it could mislead."""
    notes = [f"It rests on: {entry.method}", f"It could mislead: {entry.misleads}"]
    return "\n" + "\n".join(map(_folded, notes))


def _parameter_lines(parameters: Sequence[Parameter]) -> Iterator[str]:
    width = max(len(one.name) for one in parameters)
    for one in parameters:
        yield _folded(f"  {one.name:<{width}}  {one.doc} ({_accepted(one)})", " " * (width + 4))


def _accepted(parameter: Parameter) -> str:
    if isinstance(parameter.of, tuple):
        kind = " or ".join(parameter.of)
    elif parameter.of:
        kind = f"a {parameter.of} of the register"
    else:
        kind = {
            "VARCHAR": "text",
            "BOOLEAN": "true or false",
            "INTEGER": "whole number",
            "BIGINT": "whole number",
            "DOUBLE": "number",
            "DATE": "day, as 2031-05-09",
            "TIMESTAMPTZ": "time, as 2031-05-09T10:00:00Z, or without Z on the campaign's clocks",
        }.get(parameter.type, parameter.type)
    match parameter.least, parameter.most:
        case None, None:
            span = ""
        case least, None:
            span = f", at least {least:g}"
        case None, most:
            span = f", at most {most:g}"
        case least, most:
            span = f", {least:g} to {most:g}"
    if parameter.is_required:
        return f"{kind}{span}; needed"
    if parameter.default is None:
        return f"{kind}{span}; may be left out"
    is_truth = isinstance(parameter.default, bool)
    default = str(parameter.default).lower() if is_truth else parameter.default
    return f"{kind}{span}; default {default}"


def _unit(unit: str | None) -> str:
    return f" [{unit}]" if unit else ""


def _folded(text: str, indent: str = "") -> str:
    width = min(get_terminal_size().columns, WIDTH_AT_MOST)
    return fill(text, width=max(width, 40), subsequent_indent=indent, break_long_words=False)
