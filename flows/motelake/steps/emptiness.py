"""Why a question has no answer, where the snapshot can tell."""

from collections.abc import Callable, Iterator, Mapping
from contextlib import closing
from typing import TYPE_CHECKING

from motelake.lake.store import Lake
from motelake.library import Entry
from motelake.steps.read import open_snapshot

if TYPE_CHECKING:
    import duckdb

# Whom a lack concerns, how the snapshot shows it, and what is said of it.
_LACKS: tuple[tuple[Callable[[Entry], bool], str, str], ...] = (
    (lambda entry: True, "select count(*) = 0 from burst", "no burst was heard yet"),
    (
        lambda entry: entry.area == "event_window",
        "select count(*) = 0 from programme_event",
        "programme/ names no event",
    ),
    (
        lambda entry: "context_point" in entry.statement,
        "select count(*) = 0 from context_point",
        "context/ holds no stream",
    ),
    (
        lambda entry: "is_quiet" in entry.statement,
        "select bool_and(baseline_from is null) from campaign",
        "campaign.toml has no [baseline]",
    ),
)
# What is said where nothing is known of a name that was given, by the kind of name it is.
_UNKNOWN = {
    "measure": (
        "select count(*) = 0 from zone_minute where measure = $name",
        "no zone tells {name}",
    ),
    "zone": ("select count(*) = 0 from zone_minute where zone = $name", "no mote was heard in {name}"),
    "kind": ("select count(*) = 0 from programme_event where kind = $name", "no event is a {name}"),
}


def why_empty(lake: Lake, entry: Entry, given: Mapping[str, str]) -> str | None:
    """Why a question with these parameters has no rows, in a phrase; None where nothing is known."""
    with closing(open_snapshot(lake)) as engine:
        return "; ".join([*_lacks(engine, entry), *_unknown(engine, entry, given)]) or None


def _lacks(engine: "duckdb.DuckDBPyConnection", entry: Entry) -> Iterator[str]:
    for concerns, question, phrase in _LACKS:
        if concerns(entry) and engine.execute(question).fetchall()[0][0]:
            yield phrase


def _unknown(engine: "duckdb.DuckDBPyConnection", entry: Entry, given: Mapping[str, str]) -> Iterator[str]:
    kinds = {parameter.name: parameter.of for parameter in entry.parameters}
    for name, value in given.items():
        kind = kinds.get(name)
        if isinstance(kind, str) and kind in _UNKNOWN:
            question, phrase = _UNKNOWN[kind]
            if engine.execute(question, {"name": value}).fetchall()[0][0]:
                yield phrase.format(name=value)
