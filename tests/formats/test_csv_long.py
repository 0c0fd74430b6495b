"""CSV in long form: what becomes of each kind of row."""

from datetime import UTC, datetime
from typing import Any

import pytest

HEADER = "mote,received_at,measure,value,gateway,seq,rssi_dbm,battery_v"
ROW = "M1,2031-05-09T07:00:03.412Z,temperature,21.4,G03,4711,-71,3.01"


def read_rows(read: Any, *rows: str, header: str = HEADER) -> Any:
    return read("\n".join([header, *rows]).encode(), name="raw/a.csv")


def test_a_row_becomes_a_hearing_with_one_reading(read: Any) -> None:
    outcome = read_rows(read, ROW)
    assert outcome.hearings == [
        {
            "object": "raw/a.csv",
            "line": 2,
            "mote": "M1",
            "seq": 4711,
            "gateway": "G03",
            "received_at": datetime(2031, 5, 9, 7, 0, 3, 412000, UTC),
            "rssi_dbm": -71.0,
            "battery_v": 3.01,
            "reading_temperature": 21.4,
            "reading_sound": None,
            "reading_air_pressure": None,
        }
    ]
    assert outcome.count.lines_read == 1


def test_columns_come_in_any_order_and_only_four_are_needed(read: Any) -> None:
    outcome = read_rows(read, "58.2,sound,M1,2031-05-09T07:00:03Z", header="value,measure,mote,received_at")
    assert outcome.hearings[0]["reading_sound"] == 58.2
    assert outcome.hearings[0]["seq"] is None


@pytest.mark.parametrize(
    ("row", "reason", "mote"),
    [
        (ROW + ",1", "bad_record", None),
        (ROW.replace(",3.01", ""), "bad_record", None),
        (ROW.replace("G03", '"G03'), "bad_record", None),
        (ROW.replace("G03", '"G"03'), "bad_record", None),
        (ROW.replace(",", ";"), "bad_record", None),
        (ROW.replace("M1", ""), "no_mote", None),
        (ROW.replace("M1", " M1"), "bad_mote_name", None),
        (ROW.replace("M1", "M9"), "unknown_mote", None),
        (ROW.replace("2031-05-09T07:00:03.412Z", ""), "no_received_at", "M1"),
        (ROW.replace("412Z", "412"), "bad_received_at", "M1"),
        (ROW.replace("2031", "2030"), "outside_campaign", "M1"),
        (ROW.replace("4711", "4711a"), "bad_seq", "M1"),
        (ROW.replace("4711", "-1"), "bad_seq", "M1"),
        (ROW.replace("G03", "G 03"), "bad_gateway_name", "M1"),
        (ROW.replace("temperature", ""), "no_readings", "M1"),
    ],
)
def test_a_row_is_rejected_with_its_reason(read: Any, row: str, reason: str, mote: str | None) -> None:
    outcome = read_rows(read, ROW, row, ROW)
    assert outcome.line_rejects == [{"line": 3, "reason": reason, "mote": mote}]
    assert [hearing["line"] for hearing in outcome.hearings] == [2, 4]


@pytest.mark.parametrize(
    ("value", "reason"),
    [
        ("", "not_a_number"),
        ("warm", "not_a_number"),
        ('"21,4"', "not_a_number"),
        ("0x1F", "not_a_number"),
        (" 21.4", "not_a_number"),
        ("1_000", "not_a_number"),
        ("nan", "not_finite"),
        ("-inf", "not_finite"),
        ("1e999", "not_finite"),
    ],
)
def test_a_value_is_rejected_alone(read: Any, value: str, reason: str) -> None:
    outcome = read_rows(read, ROW.replace("21.4", value))
    assert outcome.reading_rejects == [{"line": 2, "mote": "M1", "measure": "temperature", "reason": reason}]
    assert outcome.count.lines_parsed == 1


@pytest.mark.parametrize(
    "header",
    [
        "mote;received_at;measure;value",
        "mote,received_at,measure",
        "mote,mote,received_at,measure,value",
        '"mote',
    ],
)
def test_under_a_header_that_is_none_every_row_is_a_bad_record(read: Any, header: str) -> None:
    outcome = read_rows(read, ROW, ROW, header=header)
    assert outcome.count.rejected == {"bad_record": 2}


def test_a_header_that_is_no_text_is_told_and_the_rows_are_bad_records(read: Any) -> None:
    outcome = read(b"m\xffte,received_at,measure,value\n" + ROW.encode(), name="raw/a.csv")
    assert outcome.count.rejected == {"bad_record": 1, "not_utf8": 1}


def test_other_columns_and_measures_are_dropped_and_counted_by_name(read: Any) -> None:
    rows = [ROW + ",Ada of Row 7,x", ROW.replace("temperature", "phone_count") + ",,"]
    outcome = read_rows(read, *rows, header=HEADER + ",owner,readings")
    assert outcome.count.dropped == {"owner": 1, "phone_count": 1, "readings": 1}
    assert outcome.count.lines_parsed == 2
    assert "Ada" not in repr(outcome.hearings) + repr(outcome.account)


def test_quotation_marks_and_line_ends_of_spreadsheets_are_read(read: Any) -> None:
    content = "\ufeff" + HEADER + "\r\n" + ROW.replace("M1", '"M1"') + "\r\n\r\n" + ROW + "\r\n"
    outcome = read(content.encode(), name="raw/a.csv")
    assert [row["line"] for row in outcome.hearings] == [2, 4]
