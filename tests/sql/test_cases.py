"""Every case beside a view: given rows in the tables, it answers with the rows of the story.

rows_in: {table: [row]}; a row with `values: [...]` stands for one row a minute from its minute_at on, one with
`through: time` for one burst a minute from its sampled_at to that time.
call: {parameter: value}; rows_out: [row] in the order of the answer, naming only the columns that matter.
"""

from collections.abc import Iterator
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import duckdb
import pytest
import yaml

from motelake.engine import open_engine
from motelake.library import Entry, call, create_statement, read_library

LIBRARY = read_library()
CASES = [
    pytest.param(entry, file, id=f"{entry.name}: {file.stem.replace('_', ' ')}")
    for entry in LIBRARY.entries.values()
    for file in sorted((entry.folder / "cases").glob("*.yaml"))
]


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
    return pytest.approx(value, rel=1e-6, abs=1e-9) if isinstance(value, float) else value


@pytest.mark.parametrize(("entry", "file"), CASES)
def test_a_view_answers_with_the_rows_of_its_case(entry: Entry, file: Path) -> None:
    case = yaml.safe_load(file.read_text(encoding="utf-8"))
    given = {name: str(value) for name, value in case.get("call", {}).items()}
    with open_case(entry, case.get("rows_in", {})) as warehouse:
        answer = warehouse.execute(*call(entry, given))
        names = [column[0] for column in answer.description or []]
        rows = [dict(zip(names, map(plain, row), strict=True)) for row in answer.fetchall()]
    expected = case["rows_out"]
    if "\norder by" not in entry.statement:
        rows, expected = in_any_order(rows, expected), in_any_order(expected, expected)
    assert [
        {name: row[name] for name in wanted} for row, wanted in zip(rows, expected, strict=False)
    ] == expected
    assert len(rows) == len(expected)


def in_any_order(rows: list[dict[str, Any]], expected: list[dict[str, Any]]) -> list[dict[str, Any]]:
    names = [name for name, value in (expected or [{}])[0].items() if isinstance(value, str)]
    return sorted(rows, key=lambda row: [str(row[name]) for name in names])


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
