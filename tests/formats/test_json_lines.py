"""JSON Lines: what becomes of each kind of line."""

import json
from dataclasses import replace
from datetime import UTC, datetime
from typing import Any

import pytest

GOOD = {
    "gateway": "G03",
    "mote": "M1",
    "seq": 4711,
    "received_at": "2031-05-09T07:00:03.412Z",
    "rssi_dbm": -71,
    "battery_v": 3.01,
    "readings": {"temperature": 21.4, "sound": 58.2},
}


def line(**changes: object) -> str:
    """The good burst with some fields changed, or without them where they are Ellipsis."""
    fields = GOOD | changes
    return json.dumps({name: value for name, value in fields.items() if value is not ...})


def test_a_burst_becomes_a_hearing(read: Any) -> None:
    outcome = read(line().encode())
    assert outcome.hearings == [
        {
            "object": "raw/G1.jsonl",
            "line": 1,
            "mote": "M1",
            "seq": 4711,
            "gateway": "G03",
            "received_at": datetime(2031, 5, 9, 7, 0, 3, 412000, UTC),
            "rssi_dbm": -71.0,
            "battery_v": 3.01,
            "reading_temperature": 21.4,
            "reading_sound": 58.2,
            "reading_air_pressure": None,
        }
    ]
    assert (outcome.count.lines_read, outcome.count.lines_parsed) == (1, 1)


@pytest.mark.parametrize(
    ("text", "reason", "mote"),
    [
        ("nope", "not_json", None),
        (line()[:-5], "not_json", None),
        ('{"mote":"M1","mote":"M2"}', "not_json", None),
        ('{"mote":"M1","readings":{"sound":1,"sound":2}}', "not_json", None),
        ("[" * 10_000 + "]" * 10_000, "line_too_long", None),
        ("[" * 900 + "]" * 900, "not_json", None),
        ("[1]", "not_an_object", None),
        ("null", "not_an_object", None),
        (line(mote=...), "no_mote", None),
        (line(mote=None), "no_mote", None),
        (line(mote=7), "bad_mote_name", None),
        (line(mote="<b>"), "bad_mote_name", None),
        (line(mote="M" * 65), "bad_mote_name", None),
        (line(mote="M9"), "unknown_mote", None),
        (line(received_at=...), "no_received_at", "M1"),
        (line(received_at=1936854003), "bad_received_at", "M1"),
        (line(received_at="2031-05-09T07:00:03"), "bad_received_at", "M1"),
        (line(received_at="2031-05-09T24:00:00Z"), "bad_received_at", "M1"),
        (line(received_at="2031-05-09T03:59:59.999999Z"), "outside_campaign", "M1"),
        (line(received_at="2031-05-11T02:00:00Z"), "outside_campaign", "M1"),
        (line(seq=-1), "bad_seq", "M1"),
        (line(seq="4711"), "bad_seq", "M1"),
        (line(seq=2**53), "bad_seq", "M1"),
        (line(seq=True), "bad_seq", "M1"),
        (line(seq=0.5), "bad_seq", "M1"),
        (line(gateway="../../G1"), "bad_gateway_name", "M1"),
        (line(gateway=3), "bad_gateway_name", "M1"),
        (line(readings=...), "no_readings", "M1"),
        (line(readings=[21.4]), "no_readings", "M1"),
        ("\ufeff" + line(), "not_json", None),
    ],
)
def test_a_line_is_rejected_with_its_reason(read: Any, text: str, reason: str, mote: str | None) -> None:
    outcome = read(f"{line()}\n{text}\n{line()}\n".encode())
    assert outcome.line_rejects == [{"line": 2, "reason": reason, "mote": mote}]
    assert [row["line"] for row in outcome.hearings] == [1, 3]
    assert outcome.count.rejected == {reason: 1}
    assert outcome.count.lines_read == 3


@pytest.mark.parametrize(
    ("value", "reason"),
    [
        ('"21.4"', "not_a_number"),
        ("true", "not_a_number"),
        ("null", "not_a_number"),
        ("[21.4]", "not_a_number"),
        ("1e999", "not_finite"),
        ("NaN", "not_finite"),
        ("-Infinity", "not_finite"),
    ],
)
def test_a_reading_is_rejected_alone(read: Any, value: str, reason: str) -> None:
    text = line().replace("21.4", value)
    outcome = read(text.encode())
    assert outcome.reading_rejects == [{"line": 1, "mote": "M1", "measure": "temperature", "reason": reason}]
    assert outcome.hearings[0]["reading_temperature"] is None
    assert outcome.hearings[0]["reading_sound"] == 58.2
    assert (outcome.count.lines_parsed, outcome.count.reading_rejects) == (1, 1)


def test_the_largest_and_smallest_numbers_stay(read: Any) -> None:
    text = line(readings={"temperature": 1e308, "sound": 5e-324, "air_pressure": -0.0}, seq=2**53 - 1)
    (row,) = read(text.encode()).hearings
    assert (row["reading_temperature"], row["reading_sound"]) == (1e308, 5e-324)
    assert str(row["reading_air_pressure"]) == "0.0"
    assert row["seq"] == 2**53 - 1


def test_fields_that_are_not_registered_are_dropped_and_counted_by_name(read: Any) -> None:
    readings = {"temperature": 21.4, "phone_count": 3}
    text = line(owner="Ada of Row 7", note={"mac": "02:00:5e:10:00:01"}, readings=readings, battery_v="low")
    outcome = read(f"{text}\n{line(owner='Bo')}".encode())
    assert outcome.count.dropped == {"battery_v": 1, "note": 1, "owner": 2, "phone_count": 1}
    assert outcome.hearings[0]["battery_v"] is None
    for planted in ("Ada", "02:00:5e", "low"):
        assert planted not in repr(outcome.hearings + outcome.line_rejects + outcome.reading_rejects)
        assert planted not in repr(outcome.account)


def test_no_more_than_a_hundred_names_are_kept(read: Any) -> None:
    texts = [line(**{f"field_{number:03}": 1}) for number in range(150)]
    dropped = read("\n".join(texts).encode()).count.dropped
    assert len(dropped) == 101
    assert dropped["(other)"] == 50


@pytest.mark.parametrize(
    "name", ["02:00:5e:10:00:01", "Ada of Row 7", "+351 555 0100", "x" * 49, "", "\ud800"]
)
@pytest.mark.parametrize("lines", [1, 600])
def test_a_name_that_no_measure_could_have_is_counted_without_its_text(
    read: Any, name: str, lines: int
) -> None:
    texts = [line(**{name: 1}), line(readings={"temperature": 21.4, name: 1})] * lines
    assert read("\n".join(texts).encode()).count.dropped == {"(other)": 2 * lines}


def test_seq_gateway_and_the_rest_may_be_missing(read: Any) -> None:
    outcome = read(line(seq=..., gateway=None, rssi_dbm=..., battery_v=None, readings={}).encode())
    assert outcome.hearings[0]["seq"] is None
    assert outcome.hearings[0]["gateway"] is None
    assert outcome.count.dropped == {}


def test_times_are_kept_to_the_microsecond_in_utc(read: Any) -> None:
    texts = [
        line(received_at=time) for time in ("2031-05-09T08:00:00.123456789+01:00", "2031-05-09t07:00:00z")
    ]
    rows = read("\n".join(texts).encode()).hearings
    assert [row["received_at"] for row in rows] == [
        datetime(2031, 5, 9, 7, 0, 0, 123456, UTC),
        datetime(2031, 5, 9, 7, tzinfo=UTC),
    ]


def test_a_register_without_measures_keeps_that_motes_were_heard(read: Any, plan: Any) -> None:
    outcome = read((line() + "\n").encode() * 600, by=replace(plan, measures={}))
    assert outcome.count.lines_parsed == 600
    assert outcome.count.dropped == {"sound": 600, "temperature": 600}
