"""Rows and values as they are printed."""

import csv
import io
import json
import subprocess
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from pathlib import Path
from zoneinfo import ZoneInfo

import click
import pyarrow as pa
import pyarrow.parquet as pq
import pytest

from motelake.cli.cells import comma_cell, people_cell, plain, round_number
from motelake.cli.output import _json_pieces, text_of, write_rows
from motelake.cli.text_table import text_table
from motelake.engine import open_engine

LISBON = ZoneInfo("Europe/Lisbon")
NOON = datetime(2031, 5, 9, 11, tzinfo=UTC)


@pytest.mark.parametrize(
    ("value", "expected"),
    [
        (NOON, "2031-05-09T11:00:00Z"),
        (NOON + timedelta(microseconds=5), "2031-05-09T11:00:00.000005Z"),
        (datetime(2031, 5, 9, 11), "2031-05-09T11:00:00"),
        (date(2031, 5, 9), "2031-05-09"),
        (float("nan"), None),
        (float("-inf"), None),
        (Decimal("12345678901234567890"), 12345678901234567890),
        (Decimal("1.5"), 1.5),
        (timedelta(minutes=2), 120.0),
        (b"\x00\xff", "AP8="),
        ({"at": NOON, "list": [1, None]}, {"at": "2031-05-09T11:00:00Z", "list": [1, None]}),
        (True, True),
    ],
)
def test_programs_get_values_that_json_can_hold(value: object, expected: object) -> None:
    assert plain(value) == expected
    json.dumps(plain(value), allow_nan=False)


@pytest.mark.parametrize(
    ("value", "expected"),
    [
        (0.0, "0"),
        (0.123456, "0.1235"),
        (1.5, "1.5"),
        (-63.24159, "-63.24"),
        (999.96, "1000"),
        (9999.6, "10,000"),
        (1234567.8, "1,234,568"),
        (0.0004567, "0.0004567"),
        (0.00004567, "4.57e-05"),
        (float("inf"), "inf"),
    ],
)
def test_people_get_four_digits_and_never_fewer_before_the_point(value: float, expected: str) -> None:
    assert round_number(value) == expected


def test_years_and_identities_are_not_read_in_thousands() -> None:
    assert people_cell(2031, LISBON) == "2031"
    assert people_cell(51_040, LISBON) == "51,040"
    assert people_cell(1234567890123456789, LISBON) == "1234567890123456789"


def test_cells_of_csv_are_empty_where_there_is_nothing() -> None:
    assert [comma_cell(value) for value in (None, True, [1, 2], "a", 1.25)] == [
        "",
        "true",
        "[1, 2]",
        "a",
        "1.25",
    ]


def test_numbers_stand_under_one_another_by_their_point() -> None:
    text = text_table(
        ["zone", "value"], [("hall", 1.5), ("pit", -12.25), ("roof", 3.0), ("bay", None)], LISBON
    )
    assert text.splitlines() == [
        "zone   value",
        "----  ------",
        "hall    1.5",
        "pit   -12.25",
        "roof    3",
        "bay",
    ]


def test_times_are_those_of_the_campaign_and_the_zone_is_named_once() -> None:
    table = pa.table({"at": pa.array([NOON], pa.timestamp("us", "UTC")), "n": [1]})
    assert text_of(table, LISBON).splitlines() == [
        "at                n",
        "----------------  -",
        "2031-05-09 12:00  1",
        "",
        "Times are those of Europe/Lisbon.",
    ]


def test_an_hour_that_comes_twice_tells_its_offset() -> None:
    """Lisbon's clocks went from 02:00 +0100 back to 01:00 +0000 on 2030-10-27 (tz database)."""
    first = datetime(2030, 10, 27, 0, 30, tzinfo=UTC)
    text = text_table(["at"], [(first,), (first + timedelta(hours=1),)], LISBON)
    assert text.splitlines()[2:] == ["2030-10-27 01:30 +0100", "2030-10-27 01:30 +0000"]


def test_every_format_holds_the_same_rows(tmp_path: Path) -> None:
    table = pa.table(
        {
            "zone": ["hall", None],
            "value": [0.1, None],
            "at": pa.array([NOON, None], pa.timestamp("us", "UTC")),
        }
    )
    for form in ("json", "csv", "parquet", "text"):
        write_rows(table, form, tmp_path / form, LISBON)
    rows = [
        {"zone": "hall", "value": 0.1, "at": "2031-05-09T11:00:00Z"},
        {"zone": None, "value": None, "at": None},
    ]
    assert json.loads((tmp_path / "json").read_text()) == rows
    read = list(csv.DictReader(io.StringIO((tmp_path / "csv").read_text())))
    assert read == [
        {"zone": "hall", "value": "0.1", "at": "2031-05-09T11:00:00Z"},
        {"zone": "", "value": "", "at": ""},
    ]
    assert pq.read_table(tmp_path / "parquet").equals(table)
    assert "2031-05-09 12:00" in (tmp_path / "text").read_text()


def test_no_rows_are_an_empty_list(tmp_path: Path) -> None:
    write_rows(pa.table({"zone": pa.array([], pa.string())}), "json", tmp_path / "none", LISBON)
    assert json.loads((tmp_path / "none").read_text()) == []


def test_a_file_that_cannot_be_written_is_named(tmp_path: Path) -> None:
    with pytest.raises(click.UsageError, match="nowhere"):
        write_rows(pa.table({"a": [1]}), "csv", tmp_path / "nowhere" / "file", LISBON)


def test_parquet_goes_down_a_pipe(program: tuple[str, ...], ran: str) -> None:
    call = (*program, "sql", ran, "select mote from mote", "--format", "parquet")
    done = subprocess.run(call, capture_output=True, check=True)
    assert pq.read_table(io.BytesIO(done.stdout)).num_rows == 6


def test_a_time_without_end_is_shown_and_is_null_for_programs() -> None:
    engine = open_engine()
    rows = engine.sql(
        "select 'infinity'::timestamptz as to_at, '-infinity'::timestamp as from_at, timestamptz "
        "'2031-05-09 11:00:00+00' as at union all select timestamptz '2031-05-09 11:00:00+00', null, null"
    ).to_arrow_table()
    assert [line.split() for line in text_of(rows, LISBON).splitlines()[2:3]] == [
        ["inf", "-inf", "2031-05-09", "12:00"]
    ]
    pieces = "".join(_json_pieces(rows))
    assert json.loads(pieces)[0] == {"to_at": None, "from_at": None, "at": "2031-05-09T11:00:00Z"}
