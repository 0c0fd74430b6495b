"""Every case beside an entry of the library.

A view or macro: given rows in the tables, it answers with the rows of the story.
rows_in: {table: [row]}; a row with `values: [...]` stands for one row a minute from its minute_at on, and one
with `through: time` for one burst a minute from its sampled_at to that time.
call: {parameter: value}; rows_out: [row] in the order of the answer, naming only the columns that matter.

A function: calls: [{parameter: value, returns: value}]; one that takes columns has lists in their place and
answers once for all rows, or once a row.
"""

from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import datetime, timedelta
from math import isfinite
from pathlib import Path
from typing import Any

import duckdb
import pytest
import yaml
from _pytest.mark import ParameterSet

from motelake.engine import open_engine
from motelake.library import Entry, call, create_statement, read_library

LIBRARY = read_library()


def cases_of(*kinds: str, where: Callable[[Entry], bool] = lambda _: True) -> list[ParameterSet]:
    return [
        pytest.param(entry, file, id=f"{entry.name}: {file.stem.replace('_', ' ')}")
        for entry in LIBRARY.entries.values()
        if entry.kind in kinds and where(entry)
        for file in sorted((entry.folder / "cases").glob("*.yaml"))
    ]


def asked(entry: Entry, given: dict[str, Any]) -> tuple[str, list[Any]]:
    if any("[]" in parameter.type for parameter in entry.parameters):
        types = {parameter.name: parameter.type for parameter in entry.parameters}
        arguments = ", ".join(f"{name} := ?::{types[name]}" for name in given)
        return f"select * from {entry.name}({arguments})", list(given.values())
    return call(entry, {name: str(value) for name, value in given.items()})


def open_case(entry: Entry, rows_in: dict[str, list[dict[str, Any]]]) -> duckdb.DuckDBPyConnection:
    warehouse = open_engine()
    for table in LIBRARY.tables():
        # Without the table's constraints, so that a case names only the columns that matter.
        columns = ", ".join(f'"{column.name}" {column.type}' for column in table.columns)
        warehouse.execute(f"create table {table.name} ({columns})")
        for row in rows_in.get(table.name, []):
            for single in spread(row):
                names = ", ".join(f'"{name}"' for name in single)
                marks = ", ".join("?" for _ in single)
                warehouse.execute(
                    f"insert into {table.name} ({names}) values ({marks})", list(single.values())
                )
    for needed in LIBRARY.needed_by(entry):
        warehouse.execute(f"create schema if not exists {needed.area}")
        warehouse.execute(create_statement(needed))
    return warehouse


def spread(row: dict[str, Any]) -> Iterator[dict[str, Any]]:
    if "through" in row:
        yield from bursts(row)
        return
    if "values" not in row:
        yield row
        return
    start = datetime.fromisoformat(row["minute_at"])
    rest = {name: value for name, value in row.items() if name != "values"}
    for number, value in enumerate(row["values"]):
        if value is not None:
            yield rest | {"minute_at": start + timedelta(minutes=number), "value": value}


def bursts(row: dict[str, Any]) -> Iterator[dict[str, Any]]:
    start, end = datetime.fromisoformat(row["sampled_at"]), datetime.fromisoformat(row["through"])
    rest = {name: value for name, value in row.items() if name != "through"}
    for number in range((end - start) // timedelta(minutes=1) + 1):
        at = start + timedelta(minutes=number)
        yield rest | {"sampled_at": at, "received_at": at, "seq": number, "boot": 0}


def plain(value: Any) -> Any:
    if isinstance(value, datetime):
        return value.isoformat().replace("+00:00", "Z")
    if isinstance(value, list):
        return [plain(each) for each in value]
    return pytest.approx(value, rel=1e-6, abs=1e-9) if isinstance(value, float) else value


@pytest.mark.parametrize(("entry", "file"), cases_of("view", "macro"))
def test_a_view_answers_with_the_rows_of_its_case(entry: Entry, file: Path) -> None:
    case = yaml.safe_load(file.read_text(encoding="utf-8"))
    with open_case(entry, case.get("rows_in", {})) as warehouse:
        answer = warehouse.execute(*asked(entry, case.get("call", {})))
        names = [column[0] for column in answer.description or []]
        rows = [dict(zip(names, map(plain, row), strict=True)) for row in answer.fetchall()]
    expected = case["rows_out"]
    if "\norder by" not in entry.statement:
        rows, expected = in_any_order(rows, expected), in_any_order(expected, expected)
    assert [
        {name: row[name] for name in wanted} for row, wanted in zip(rows, expected, strict=False)
    ] == expected
    assert len(rows) == len(expected)


@pytest.mark.parametrize(
    ("entry", "file"), cases_of("macro", where=lambda entry: entry.kept_statement is not None)
)
def test_an_entry_answers_the_same_from_what_is_kept(entry: Entry, file: Path) -> None:
    kept = LIBRARY.entries["series.zone_departure"]
    case = yaml.safe_load(file.read_text(encoding="utf-8"))
    given = case.get("call", {})
    with open_case(entry, case.get("rows_in", {})) as warehouse:
        before = warehouse.execute(*asked(entry, given)).fetchall()
        for needed in LIBRARY.needed_by(kept):
            warehouse.execute(create_statement(needed))
        warehouse.execute(f"create table kept as from {kept.name}")
        warehouse.execute(f"create or replace view {kept.name} as from kept")
        warehouse.execute(create_statement(replace(entry, statement=str(entry.kept_statement))))
        after = warehouse.execute(*asked(entry, given)).fetchall()
    assert [tuple(map(plain, row)) for row in sorted(before)] == [
        tuple(
            value.isoformat().replace("+00:00", "Z") if isinstance(value, datetime) else value
            for value in row
        )
        for row in sorted(after)
    ]


@pytest.mark.parametrize(("entry", "file"), cases_of("function"))
def test_a_function_returns_the_values_of_its_case(entry: Entry, file: Path) -> None:
    case = yaml.safe_load(file.read_text(encoding="utf-8"))
    types = {parameter.name: parameter.type for parameter in entry.parameters}
    with open_case(entry, case.get("rows_in", {})) as warehouse:
        for given in case["calls"]:
            names = [name for name in given if name != "returns"]
            # A list where the function takes no list is a column.
            columns = [name for name in names if isinstance(given[name], list) and "[]" not in types[name]]
            arguments = ", ".join(f"{n} := {n if n in columns else f'?::{types[n]}'}" for n in names)
            unnested = ", ".join(f"unnest(?::{types[name]}[]) as {name}" for name in columns)
            source = f" from (select {unnested})" if columns else ""
            values = [given[n] for n in names if n not in columns] + [given[n] for n in columns]
            found = warehouse.execute(f"select {entry.name}({arguments}){source}", values).fetchall()
            wanted = given["returns"]
            is_a_row_each = bool(columns) and isinstance(wanted, list)
            assert [row[0] for row in found] == (plain(wanted) if is_a_row_each else [plain(wanted)]), given


@pytest.mark.parametrize(
    "entry", [pytest.param(e, id=e.name) for e in LIBRARY.entries.values() if e.kind != "table"]
)
def test_every_entry_has_a_case(entry: Entry) -> None:
    assert list((entry.folder / "cases").glob("*.yaml")), f"{entry.name} has no case under cases/"


def in_any_order(rows: list[dict[str, Any]], expected: list[dict[str, Any]]) -> list[dict[str, Any]]:
    names = [name for name, value in (expected or [{}])[0].items() if isinstance(value, str)]
    return sorted(rows, key=lambda row: [str(row[name]) for name in names])


REGISTERED: dict[str, list[dict[str, Any]]] = {
    "campaign": [
        {
            "time_zone": "UTC",
            "starts_at": "2031-05-09T00:00:00Z",
            "ends_at": "2031-05-12T00:00:00Z",
            "burst_period_s": 60,
            "drift_ppm": 100,
            "baseline_from": "02:00:00",
            "baseline_to": "05:00:00",
        }
    ],
    "zone": [{"zone": "pit", "level": "low"}],
    "mote": [{"mote": "M1", "network": "N1"}],
    "measure": [
        {"measure": "warmth", "kind": "level", "role": "temperature"},
        {"measure": "mats", "kind": "count", "role": "crowd"},
    ],
}
STANDING = REGISTERED | {
    "mote_reference": [
        {"mote": "M1", "measure": name, "from_at": "2031-05-09T00:00:00Z", "value": 5.0}
        for name in ("warmth", "mats")
    ],
    "mote_minute": [
        {"mote": "M1", "zone": "pit", "measure": name, "covered_s": 60} | series
        for name in ("warmth", "mats")
        for series in (
            {"minute_at": "2031-05-09T00:00:00Z", "values": [5.0] * 30},
            {"minute_at": "2031-05-09T08:00:00Z", "values": [5.0] * 30},
        )
    ],
    "zone_minute": [
        {"zone": "pit", "level": "low", "measure": name, "motes": 1, "motes_expected": 1, "n": 1} | series
        for name in ("warmth", "mats")
        for series in (
            {"minute_at": "2031-05-09T00:00:00Z", "values": [5.0] * 30},
            {"minute_at": "2031-05-09T08:00:00Z", "values": [5.0] * 30},
        )
    ],
}


@pytest.mark.parametrize("entry", [pytest.param(entry, id=entry.name) for entry in LIBRARY.questions()])
@pytest.mark.parametrize("rows_in", [REGISTERED, STANDING], ids=["nothing was heard", "nothing changes"])
def test_every_question_has_an_answer_where_there_is_little_to_say(
    entry: Entry, rows_in: dict[str, list[dict[str, Any]]]
) -> None:
    given = {parameter.name: "mats" for parameter in entry.parameters if parameter.is_required}
    with open_case(entry, rows_in) as warehouse:
        answer = warehouse.execute(*call(entry, given))
        names = [column[0] for column in answer.description or []]
        rows = [dict(zip(names, row, strict=True)) for row in answer.fetchall()]
    # What does not change is related to nothing and surprises nobody.
    for row in rows:
        assert row.get("r") is None
        assert all(not isinstance(value, float) or isfinite(value) for value in row.values()), row


@pytest.mark.parametrize("entry", [pytest.param(entry, id=entry.name) for entry in LIBRARY.questions()])
def test_the_columns_of_an_answer_are_those_that_are_described(entry: Entry) -> None:
    given = {parameter.name: "x" for parameter in entry.parameters if parameter.is_required}
    with open_case(entry, {}) as warehouse:
        statement, values = call(entry, given)
        answer = warehouse.execute(f"describe {statement}", values).fetchall()
    described = [
        (column.name, column.type.replace("TIMESTAMPTZ", "TIMESTAMP WITH TIME ZONE"))
        for column in entry.columns
    ]
    assert [(name, type_name) for name, type_name, *_ in answer] == described
