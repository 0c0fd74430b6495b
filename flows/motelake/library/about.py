"""What is said about an entry of the library, read from its about.yaml and checked."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import yaml

from motelake.core.published import REFRESHES
from motelake.errors import LibraryError

KIND_OF_FILE: Mapping[str, str] = {
    "table.sql": "table",
    "view.sql": "view",
    "macro.sql": "macro",
    "function.sql": "function",
}
# Beside a macro: its statement where series.zone_departure is a table (warehouse/asked.py).
KEPT_FILE = "kept.sql"
# What is only asked for is not published.
_REFRESHES = (*REFRESHES, "asked")
_KEYS = {
    "question", "grain", "parameters", "columns", "returns", "method", "source", "misleads", "refresh",
}  # fmt: skip
_NEEDED: Mapping[str, tuple[str, ...]] = {
    "table": ("grain", "columns"),
    "view": ("question", "grain", "columns", "method", "misleads"),
    "macro": ("question", "grain", "columns", "method", "misleads"),
    "function": ("question", "parameters", "returns", "method", "source"),
}


@dataclass(frozen=True)
class Column:
    """A column of an answer: its DuckDB type, its unit and what it means."""

    name: str
    type: str
    doc: str
    unit: str | None = None


@dataclass(frozen=True)
class Parameter:
    """A parameter of a question; `of` is the kind of name it must be, or the choices it has."""

    name: str
    type: str
    doc: str
    default: str | float | bool | None = None
    is_required: bool = False
    of: str | tuple[str, ...] | None = None
    least: float | None = None
    most: float | None = None


@dataclass(frozen=True)
class Entry:
    """One folder of the library: a table, a view, a macro that answers with rows, or a function."""

    name: str
    kind: str
    statement: str
    folder: Path
    kept_statement: str | None = None
    """The same answer, quicker where what many questions are made of is kept as a table."""
    question: str = ""
    grain: str = ""
    parameters: tuple[Parameter, ...] = ()
    columns: tuple[Column, ...] = ()
    method: str = ""
    source: str = ""
    misleads: str = ""
    refresh: str = "run"
    needs: tuple[str, ...] = field(default=(), compare=False)

    @property
    def area(self) -> str:
        """The schema the entry lives in."""
        return self.name.rpartition(".")[0] or "main"


def read_entry(name: str, folder: Path, file: str) -> Entry:
    """The entry in a folder, with its statement.

    Raises LibraryError for a mistake in what is said about it.
    """
    about_file = folder / "about.yaml"
    if not about_file.is_file():
        raise LibraryError(f"{folder / file} has no about.yaml beside it: say what it answers.")
    about = _read_yaml(about_file)
    kind = KIND_OF_FILE[file]
    unknown = sorted(set(about) - _KEYS)
    if unknown:
        raise LibraryError(f"{about_file} says {unknown[0]!r}, which is none of {', '.join(sorted(_KEYS))}.")
    missing = [key for key in _NEEDED[kind] if not about.get(key)]
    if missing:
        raise LibraryError(f"{about_file} does not say {', '.join(missing)}.")
    refresh = about.get("refresh", "run")
    if refresh not in _REFRESHES:
        raise LibraryError(f"{about_file}: refresh is {refresh!r}; it is one of {', '.join(_REFRESHES)}.")
    columns = {"value": about["returns"]} if kind == "function" else about["columns"]
    try:
        return Entry(
            name=name,
            kind=kind,
            statement=_read_statement(folder / file),
            folder=folder,
            kept_statement=_read_statement(folder / KEPT_FILE) if (folder / KEPT_FILE).exists() else None,
            parameters=tuple(_parameter(key, said) for key, said in (about.get("parameters") or {}).items()),
            columns=tuple(_column(key, said) for key, said in columns.items()),
            refresh=refresh,
            question=_one_line(about.get("question", "")),
            grain=_one_line(about.get("grain", "")),
            method=_one_line(about.get("method", "")),
            source=_one_line(about.get("source", "")),
            misleads=_one_line(about.get("misleads", "")),
        )
    except (TypeError, KeyError, AttributeError) as error:
        raise LibraryError(
            f"{about_file}: a parameter or column is not described as it should: {error}."
        ) from error


def _read_statement(file: Path) -> str:
    return file.read_text(encoding="utf-8").strip().rstrip(";")


def _read_yaml(file: Path) -> dict[str, Any]:
    loader = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
    try:
        said = yaml.load(file.read_text(encoding="utf-8"), Loader=loader)
    except yaml.YAMLError as error:
        raise LibraryError(f"{file} is not YAML: {error}") from error
    if not isinstance(said, dict):
        raise LibraryError(f"{file} holds no keys.")
    return said


def _one_line(text: str) -> str:
    return " ".join(str(text).split())


def _column(name: str, said: Mapping[str, Any]) -> Column:
    return Column(name, said["type"], _one_line(said["doc"]), said.get("unit"))


def _parameter(name: str, said: Mapping[str, Any]) -> Parameter:
    of = said.get("of")
    return Parameter(
        name,
        said["type"],
        _one_line(said["doc"]),
        default=said.get("default"),
        is_required="default" not in said,
        of=tuple(str(choice) for choice in of) if isinstance(of, list) else of,
        least=said.get("least"),
        most=said.get("most"),
    )
