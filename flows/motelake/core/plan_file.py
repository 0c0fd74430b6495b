"""campaign.toml read key by key into a plan."""

import tomllib
from collections.abc import Callable, Mapping
from typing import Any

from motelake.core.keys import (
    read_hours,
    read_instant_key,
    read_not_negative,
    read_number_key,
    read_positive,
    read_share,
    read_title,
    read_whole,
    read_zone_name,
)
from motelake.core.names import NAME_RULE, is_name
from motelake.core.plan import Limits, LocalHours
from motelake.core.problems import Problems, advice, read_utf8, shown

PLAN = "campaign.toml"

_NEEDED: dict[str, Callable[[Any], Any]] = {
    "title": read_title,
    "time_zone": read_zone_name,
    "starts_at": read_instant_key,
    "ends_at": read_instant_key,
    "burst_period_s": read_positive,
}
_TABLES = ("levels", "baseline", "open", "limits")
_LIMITS: dict[str, Callable[[Any], Any]] = {
    "bytes_per_object": read_whole,
    "bytes_per_line": read_whole,
    "reject_share": read_share,
    "unknown_mote_share": read_share,
    "outside_span_share": read_share,
    "late_min": read_not_negative,
    "batch_objects": read_whole,
    "batch_bytes": read_whole,
}


def read_plan(files: Mapping[str, bytes], problems: Problems) -> dict[str, Any]:
    """The fields of a Plan that could be read, by name; every mistake goes to `problems`."""
    document = _document(files, problems)
    if document is None:
        return {}
    _refuse_unknown(document, [*_NEEDED, "drift_ppm", *_TABLES], "", problems)
    plan: dict[str, Any] = {"drift_ppm": 100.0}
    for key in _NEEDED:
        if key not in document:
            problems.add(PLAN, "the key is missing; add it", key=key)
    for key, read in {**_NEEDED, "drift_ppm": read_not_negative}.items():
        if key in document:
            plan |= _value(document, key, read, "", problems)
    if "starts_at" in plan and "ends_at" in plan and plan["ends_at"] <= plan["starts_at"]:
        problems.add(PLAN, "is not after starts_at; correct one of them", key="ends_at")
    tables = {name: _table(document, name, problems) for name in _TABLES}
    plan["baseline"] = _hours(tables["baseline"], "baseline", problems)
    plan["open_hours"] = _hours(tables["open"], "open", problems)
    plan["limits"] = _limits(tables["limits"] or {}, problems)
    if tables["levels"] is not None:
        plan["levels"] = _levels(tables["levels"], problems)
    elif "levels" not in document:
        problems.add(PLAN, "the table is missing; name each level and its height in metres", key="levels")
    return plan


def _document(files: Mapping[str, bytes], problems: Problems) -> dict[str, Any] | None:
    if PLAN not in files:
        problems.add(
            PLAN, "the file is missing; it names the title, time zone, times and levels of the campaign"
        )
        return None
    text = read_utf8(PLAN, files[PLAN], problems)
    if text is None:
        return None
    try:
        return tomllib.loads(text)
    except (tomllib.TOMLDecodeError, RecursionError) as mistake:
        problems.add(PLAN, f"is no TOML: {mistake}; correct it there")
    return None


def _table(document: Mapping[str, Any], name: str, problems: Problems) -> dict[str, Any] | None:
    table = document.get(name)
    if table is None or isinstance(table, dict):
        return table
    problems.add(PLAN, f"is no table; write [{name}] on a line of its own and its keys below", key=name)
    return None


def _value(
    table: Mapping[str, Any], key: str, read: Callable[[Any], Any], prefix: str, problems: Problems
) -> dict[str, Any]:
    try:
        return {key: read(table[key])}
    except ValueError as mistake:
        problems.add(PLAN, str(mistake), key=prefix + key)
        return {}


def _hours(table: dict[str, Any] | None, name: str, problems: Problems) -> LocalHours | None:
    if table is None:
        return None
    _refuse_unknown(table, ("from", "to"), f"{name}.", problems)
    ends: dict[str, Any] = {}
    for key in ("from", "to"):
        if key in table:
            ends |= _value(table, key, read_hours, f"{name}.", problems)
        else:
            problems.add(PLAN, f"the key is missing; [{name}] needs both from and to", key=f"{name}.{key}")
    if len(ends) < 2:
        return None
    if ends["from"] == ends["to"]:
        problems.add(PLAN, "is the same as from; the hours would be empty", key=f"{name}.to")
    if name == "baseline" and ends["to"] < ends["from"]:
        # Each local day has a baseline of its own, so it cannot lie on two days.
        problems.add(PLAN, "is before from; a baseline lies within one day", key="baseline.to")
    return LocalHours(ends["from"], ends["to"])


def _levels(table: Mapping[str, Any], problems: Problems) -> dict[str, float]:
    if not table:
        problems.add(PLAN, "names no level; a house on one level has one, such as ground = 0.0", key="levels")
    levels: dict[str, float] = {}
    for name in table:
        if not is_name(name):
            problems.add(PLAN, f"{shown(name)} is no name; a name is {NAME_RULE}", key="levels")
        levels |= _value(table, name, read_number_key, "levels.", problems) or {name: 0.0}
    return levels


def _limits(table: Mapping[str, Any], problems: Problems) -> Limits:
    _refuse_unknown(table, _LIMITS, "limits.", problems)
    values: dict[str, Any] = {}
    for key, read in _LIMITS.items():
        if key in table:
            values |= _value(table, key, read, "limits.", problems)
    return Limits(**values)


def _refuse_unknown(
    table: Mapping[str, Any],
    known: Mapping[str, Any] | list[str] | tuple[str, ...],
    prefix: str,
    problems: Problems,
) -> None:
    for key in table:
        if key not in known:
            hint = advice(key, known, f"known are {', '.join(known)}")
            problems.add(PLAN, f"{shown(key)} is no key here; {hint}", key=prefix + shown(key)[1:-1])
