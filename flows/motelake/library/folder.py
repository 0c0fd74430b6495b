"""Where the library is found, and its entries in the order in which they need one another."""

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from pathlib import Path

from motelake.errors import LibraryError, UnknownNameError
from motelake.library.about import KIND_OF_FILE, Entry, read_entry

_NOT_CODE = re.compile(r"--[^\n]*|/\*.*?\*/|'(?:[^']|'')*'", re.DOTALL)
_QUALIFIED = re.compile(r"\b([a-z_][a-z0-9_]*\.[a-z_][a-z0-9_]*)\b")


@dataclass(frozen=True)
class Library:
    """All entries by name: tables first, then views, macros and functions, each after what it needs."""

    folder: Path
    entries: Mapping[str, Entry]

    def find(self, name: str) -> Entry:
        """The entry of that name; raises UnknownNameError with the nearest match."""
        try:
            return self.entries[name]
        except KeyError:
            raise UnknownNameError("view", name, [entry.name for entry in self.questions()]) from None

    def needed_by(self, entry: Entry) -> list[Entry]:
        """The entry and all it needs besides tables, in an order that works."""
        wanted = {entry.name}
        for other in reversed(list(self.entries.values())):
            if other.name in wanted:
                wanted.update(other.needs)
        return [other for other in self.entries.values() if other.name in wanted]

    def tables(self) -> list[Entry]:
        """The tables that analysts rely on."""
        return [entry for entry in self.entries.values() if entry.kind == "table"]

    def questions(self) -> list[Entry]:
        """What can be shown: views, and macros that take no lists (those are building blocks)."""
        return [
            entry
            for entry in self.entries.values()
            if entry.kind in ("view", "macro") and not any("[]" in p.type for p in entry.parameters)
        ]


def library_folder() -> Path:
    """The folder of statements: inside the installed package, else at the root of the checkout."""
    package = Path(__file__).resolve().parent.parent
    places = [package / "sql", package.parent.parent / "sql"]
    for place in places:
        if (place / "tables").is_dir():
            return place
    raise LibraryError(
        f"The library of views was found neither in {places[0]} nor in {places[1]}. Install motelake again."
    )


def read_sql(name: str) -> str:
    """The text of sql/<name>.sql."""
    return (library_folder() / f"{name}.sql").read_text(encoding="utf-8")


def read_library(folder: Path | None = None) -> Library:
    """Every entry under folder (by default the one that belongs to this program).

    Raises LibraryError where an entry is badly described, or where entries need one another in a ring.
    """
    folder = folder or library_folder()
    tables: dict[str, Entry] = {}
    others: dict[str, Entry] = {}
    for file in sorted(folder.glob("*/*/*.sql")):
        if file.name not in KIND_OF_FILE:
            continue
        is_table = file.parent.parent.name == "tables"
        name = file.parent.name if is_table else f"{file.parent.parent.name}.{file.parent.name}"
        (tables if is_table else others)[name] = read_entry(name, file.parent, file.name)
    named = {
        name: replace(entry, needs=tuple(sorted(needed_names(entry.statement) & (others.keys() - {name}))))
        for name, entry in others.items()
    }
    return Library(folder, tables | {entry.name: entry for entry in _in_order(named)})


def needed_names(statement: str) -> set[str]:
    """The qualified names a statement mentions outside comments and texts."""
    return set(_QUALIFIED.findall(_NOT_CODE.sub(" ", statement)))


def _in_order(entries: Mapping[str, Entry]) -> Iterator[Entry]:
    done: set[str] = set()

    def visit(name: str, way: tuple[str, ...]) -> Iterator[Entry]:
        if name in way:
            ring = (*way[way.index(name) :], name)
            raise LibraryError(f"These need one another in a ring: {' -> '.join(ring)}.")
        if name in done:
            return
        for needed in entries[name].needs:
            yield from visit(needed, (*way, name))
        done.add(name)
        yield entries[name]

    for name in sorted(entries):
        yield from visit(name, ())
