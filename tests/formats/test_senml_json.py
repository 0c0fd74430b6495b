"""SenML JSON: what becomes of each kind of record."""

import json
from datetime import UTC, datetime
from typing import Any

import pytest

FIRST = {
    "bn": "M1:",
    "bt": 1936076403.412,
    "n": "temperature",
    "u": "Cel",
    "v": 21.4,
}  # 2031-05-09T07:00:03.412Z
SOUND = {"n": "sound", "u": "dB", "v": 58.2}


def read_pack(read: Any, *records: object) -> Any:
    return read(json.dumps(records).encode(), name="raw/a.senml.json")


def reasons(outcome: Any) -> list[tuple[int, str]]:
    return [(row["line"], row["reason"]) for row in outcome.line_rejects]


def test_records_become_hearings(read: Any) -> None:
    outcome = read_pack(read, FIRST, SOUND | {"t": 0.1})
    assert [(row["line"], row["mote"], row["received_at"]) for row in outcome.hearings] == [
        (1, "M1", datetime(2031, 5, 9, 7, 0, 3, 412000, UTC)),
        (2, "M1", datetime(2031, 5, 9, 7, 0, 3, 512000, UTC)),
    ]
    assert outcome.hearings[0]["reading_temperature"] == 21.4
    assert outcome.hearings[1]["reading_sound"] == 58.2
    assert outcome.count.lines_read == 2


@pytest.mark.parametrize(
    ("unit", "value", "expected"),
    [("Pa", 101325, 1013.25), ("hPa", 1013.25, 1013.25), (None, 1013.25, 1013.25)],
)
def test_values_come_in_the_unit_of_the_register(
    read: Any, unit: str | None, value: float, expected: float
) -> None:
    record = {"bn": "M1:", "bt": 1936076403, "n": "air_pressure", "v": value} | (
        {} if unit is None else {"u": unit}
    )
    assert read_pack(read, record).hearings[0]["reading_air_pressure"] == expected


@pytest.mark.parametrize(
    ("change", "reason"),
    [
        ({"u": "K"}, "unit_mismatch"),
        ({"u": "hPa"}, "unit_mismatch"),
        ({"v": "21.4"}, "not_a_number"),
        ({"v": None}, "not_a_number"),
        ({"v": True}, "not_a_number"),
    ],
)
def test_a_value_is_rejected_alone(read: Any, change: dict[str, object], reason: str) -> None:
    outcome = read_pack(read, FIRST | change, SOUND)
    assert outcome.reading_rejects == [{"line": 1, "mote": "M1", "measure": "temperature", "reason": reason}]
    assert outcome.count.lines_parsed == 2


def test_texts_truths_and_data_are_no_numbers(read: Any) -> None:
    values = ({"vs": "warm"}, {"vb": True}, {"vd": "aGkgCg"})
    outcome = read_pack(read, FIRST, *({"n": "sound"} | value for value in values))
    assert [row["reason"] for row in outcome.reading_rejects] == ["not_a_number"] * 3


def test_a_number_no_double_holds_is_not_finite(read: Any) -> None:
    content = json.dumps([FIRST]).replace("21.4", "1e999").encode()
    outcome = read(content, name="raw/a.senml.json")
    assert outcome.reading_rejects[0]["reason"] == "not_finite"


@pytest.mark.parametrize(
    ("record", "reason"),
    [
        (SOUND | {"n": "sound level"}, "bad_record"),
        (SOUND | {"n": 7}, "bad_record"),
        ({"n": "sound", "u": "dB"}, "bad_record"),
        ({"n": "sound", "v": 1, "vb": True}, "bad_record"),
        (SOUND | {"t": "now"}, "bad_record"),
        (SOUND | {"t": -1936076403}, "bad_received_at"),
        (SOUND | {"t": 1e300}, "bad_received_at"),
        (SOUND | {"t": 86400 * 3}, "outside_campaign"),
        ({"bn": "M9:"} | SOUND, "unknown_mote"),
        ({"bn": "sound", "n": "", "v": 1}, "bad_record"),
        ({"bn": "M_/1:"} | SOUND, "bad_mote_name"),
    ],
)
def test_a_record_is_rejected_and_those_around_it_stay(
    read: Any, record: dict[str, object], reason: str
) -> None:
    outcome = read_pack(read, FIRST, record, {"bn": "M1:"} | SOUND)
    assert reasons(outcome) == [(2, reason)]
    assert [row["line"] for row in outcome.hearings] == [1, 3]


@pytest.mark.parametrize(
    ("record", "reason"),
    [
        ({"bver": 11}, "bad_record"),
        ({"bver": "10"}, "bad_record"),
        ({"sound_": 1}, "bad_record"),
        ({"bn": 7}, "bad_record"),
        ("sound", "not_an_object"),
        ([SOUND], "not_an_object"),
        ({"n": "x" * 3000}, "line_too_long"),
    ],
)
def test_what_follows_a_record_that_leaves_the_bases_in_doubt_is_rejected(
    read: Any, record: object, reason: str
) -> None:
    told = SOUND | record if isinstance(record, dict) else record
    packs = [[FIRST, told, SOUND], [FIRST, SOUND]]
    outcome = read("\n".join(map(json.dumps, packs)).encode(), name="raw/a.senml.json")
    assert reasons(outcome) == [(2, reason), (3, "bad_record")]
    assert [row["line"] for row in outcome.hearings] == [1, 4, 5]


def test_a_time_without_a_date_is_none(read: Any) -> None:
    assert reasons(read_pack(read, {"n": "M1:sound", "v": 58.2})) == [(1, "bad_received_at")]
    assert reasons(read_pack(read, {"n": "M1:sound", "v": 58.2, "t": -20})) == [(1, "bad_received_at")]


def test_a_record_that_only_sets_bases_is_no_line(read: Any) -> None:
    bases = {"bn": "M1:", "bt": 1936076403.412}
    outcome = read_pack(read, bases, SOUND)
    assert (outcome.count.lines_read, outcome.hearings[0]["line"]) == (1, 2)


def test_motes_may_have_colons_in_their_names(read: Any) -> None:
    assert read_pack(read, FIRST | {"bn": "pit:7:"}).hearings[0]["mote"] == "pit:7"


def test_sums_and_unknown_labels_are_dropped_and_counted_by_name(read: Any) -> None:
    outcome = read_pack(
        read, FIRST | {"s": 3, "gateway": "Ada"}, {"n": "phone_count", "v": 3}, {"n": "sound", "s": 1}
    )
    assert outcome.count.dropped == {"gateway": 1, "phone_count": 1, "s": 2}
    assert outcome.count.lines_parsed == 3
    assert outcome.hearings[0]["gateway"] is None


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("", []),
        ("[]", []),
        ("[] \n []", []),
        ("{}", [(1, "not_json")]),
        ("[", [(1, "not_json")]),
        ("[{}", [(1, "not_json")]),
        ("[1 2]", [(1, "not_json")]),
        ("[}]", [(1, "not_json")]),
        ("[,]", [(1, "not_json"), (2, "bad_record")]),
        ("[[]", [(1, "not_json")]),
        ("[" * 10_000, [(1, "not_json")]),
        ("[" * 1000 + "]" * 1000, [(1, "not_json")]),
        ('[{"n":"a","n":"b"}]', [(1, "not_json")]),
        ('["]"]', [(1, "not_an_object")]),
        ('["\\"]"]', [(1, "not_an_object")]),
        ('["\\\\"]', [(1, "not_an_object")]),
        ("[null] nonsense", [(1, "not_an_object"), (2, "not_json")]),
        ("\ufeff[null]", [(1, "not_an_object")]),
    ],
)
def test_what_is_no_pack_is_told(read: Any, text: str, expected: list[tuple[int, str]]) -> None:
    assert reasons(read(text.encode(), name="raw/a.senml.json")) == expected


def test_bytes_that_are_no_text_cost_the_record_and_what_follows(read: Any) -> None:
    content = (
        json.dumps([FIRST, {"note": "?"}, SOUND]).replace("?", "\udcff").encode("utf-8", "surrogateescape")
    )
    content = content.replace(b"\\udcff", b"\xff")
    assert reasons(read(content, name="raw/a.senml.json")) == [(2, "not_utf8"), (3, "bad_record")]


def test_a_pack_larger_than_a_block_is_read_record_by_record(read: Any) -> None:
    records = [FIRST, *(SOUND | {"t": number / 1000, "note": "n" * 40} for number in range(30_000))]
    outcome = read_pack(read, *records)
    assert outcome.count.lines_parsed == 30_001
    assert outcome.count.dropped == {"note": 30_000}
