"""Lines taken together by DuckDB come out exactly as the line by line definition says."""

import json
import struct
from collections import Counter
from random import Random
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from motelake.formats import json_lines
from motelake.formats.json_line import read_json_line
from motelake.formats.plan import DroppedNames, Hearing, LineReject, ReadingPlan

# Values that readers of JSON disagree on, or that are almost what is wanted.
NUMBERS = [
    "0",
    "-0",
    "-0.0",
    "1",
    "21.4",
    "1e3",
    "1E+2",
    "1e308",
    "1e309",
    "-1e999",
    "1e-400",
    "NaN",
    "nan",
    "Infinity",
    "-Infinity",
    "-nan",
    "9007199254740991",
    "9007199254740992",
    "9007199254740993",
    "123456789012345678901234567890",
    "18446744073709551616",
    "01",
    "+1",
    ".5",
    "1.",
    "0x1F",
    "4711.0",
    "4711.5",
    "-1",
    "2.2250738585072011e-308",
    "0.1e1",
    "1e400000",
]
TEXTS = [
    '""',
    '"M1"',
    '"17"',
    '"true"',
    '"\\u004d1"',
    '"M1\\u0000"',
    '"\\ud800"',
    '"\\ud83d\\ude00"',
    '"M_1"',
    '"21.4"',
    '"NaN"',
    '"pit:7"',
    '":"',
    '",}"',
    '"a\\"b"',
    '"\\\\"',
    '"é"',
    '"x"x"',
    "'M1'",
    '"M9"',
    '"[[[["',
    '"G1"',
    '"null"',
    '",]"',
    '"-inf"',
    '"b\\nb"',
    '"M 1"',
    '"\t"',
    '" "',
    '"mote"',
    '"readings"',
]
TEXTS.append('"' + "n" * 70 + '"')
TIMES = [
    '"2031-05-09T07:00:00Z"',
    '"2031-05-09T04:00:00.000000Z"',
    '"2031-05-09T03:59:59.999999Z"',
    '"2031-05-11T02:00:00Z"',
    '"2031-05-11T01:59:59.999999Z"',
    '"2031-05-09T07:00:00.1234567Z"',
    '"2031-05-09T07:00:00"',
    '"2031-05-09T24:00:00Z"',
    '"2031-05-09t07:00:00z"',
    '"2031-05-09T07:00:60Z"',
    '"2031-05-09T07:00:00+01:00"',
    '"2031-05-09T07:00:00.5-00:30"',
    '"2031-05-09T07:00:00+24:00"',
    '"2031-05-10T07:00:00+14:59"',
    '"2031-05-10T07:00:00-14:59"',
    '"2031-05-32T07:00:00Z"',
    '"2031-02-29T07:00:00Z"',
    '"0000-05-09T07:00:00Z"',
    '"20310509T070000Z"',
    '"2031-05-09T07:00Z"',
    '"2031-05-09T07:00:00.Z"',
    '"epoch"',
    '"infinity"',
    '"2031-5-09T07:00:00Z"',
    '"2031-05-09T07:00:00,5Z"',
    '"02031-05-09T07:00:00Z"',
    '"2031-05-10T23:59:60Z"',
    '"2031-05-09 07:00:00Z"',
    '"2031-05-09T07:00:00 UTC"',
    '" 2031-05-09T07:00:00Z"',
    '"2031-05-09T07:00:00Z\\n"',
]
OTHERS = [
    "null",
    "true",
    "false",
    "[]",
    "{}",
    "[1]",
    '{"a":1}',
    '{"a":1,"a":2}',
    "[1,]",
    '{"a":NaN}',
    "nope",
    "",
    '{"temperature":1}',
    '[{"mote":"M1"}]',
    '["true"]',
    '{"b":"q\\"q"}',
    '[{"a":[{}]},{},[],[]]',
    '"\\u0000"',
]
OTHERS += ["[" * 70 + "]" * 70, "[" * 900 + "]" * 900, "[" + ",".join(["[]"] * 80) + "]"]
MOTES = ['"M1"'] * 6 + ['"M2"', '"17"', "17", '"true"', "true", '"pit:7"', '"M9"', '"\\u004d1"']
NAMES = ["gateway", "mote", "seq", "received_at", "rssi_dbm", "battery_v", "readings", "temperature", "sound"]


@pytest.fixture
def _all_together(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(json_lines, "_FEW_LINES", -1)


@pytest.mark.usefixtures("_all_together")
@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(seed=st.integers(0, 2**32))
def test_lines_taken_together_agree_with_the_definition(seed: int, read: Any, plan: ReadingPlan) -> None:
    chance = Random(seed)
    texts = [strange_line(chance) for _ in range(400)]
    texts = [text for text in texts if len(text.encode()) <= plan.bytes_per_line]
    outcome = read("\n".join(texts).encode())
    assert _found(outcome) == _expected(texts, plan)


def _found(outcome: Any) -> dict[str, object]:
    heard = [
        tuple(
            _bits(value) if isinstance(value, float) else value
            for name, value in row.items()
            if name != "object"
        )
        for row in outcome.hearings
    ]
    return {
        "heard": heard,
        "rejects": [(row["line"], row["reason"], row["mote"]) for row in outcome.line_rejects],
        "reading rejects": [(row["line"], row["measure"], row["reason"]) for row in outcome.reading_rejects],
        "parsed": outcome.count.lines_parsed,
        "dropped": outcome.count.dropped,
        "rejected": outcome.count.rejected,
    }


def _expected(texts: list[str], plan: ReadingPlan) -> dict[str, object]:
    outcomes = [read_json_line(number, text, plan) for number, text in enumerate(texts, 1) if text]
    heard = [outcome for outcome in outcomes if isinstance(outcome, Hearing)]
    rejects = [outcome for outcome in outcomes if isinstance(outcome, LineReject)]
    dropped = DroppedNames()
    for hearing in heard:
        for name in hearing.dropped:
            dropped.add(name)
    return {
        "heard": [
            tuple(
                _bits(value) if isinstance(value, float) else value
                for value in (
                    *(h.line, h.mote, h.seq, h.gateway, h.received_at, h.rssi_dbm, h.battery_v),
                    *(h.readings.get(measure) for measure in plan.measures),
                )
            )
            for h in heard
        ],
        "rejects": [(reject.line, str(reject.reason), reject.mote) for reject in rejects],
        "reading rejects": sorted(
            (h.line, measure, str(why)) for h in heard for measure, why in h.reading_rejects
        ),
        "parsed": len(heard),
        "dropped": dropped.counts(),
        "rejected": Counter(str(reject.reason) for reject in rejects),
    }


def _bits(number: float) -> bytes:
    return struct.pack("<d", number)


def strange_line(chance: Random) -> str:
    """A burst with nothing, one thing or several things unusual about it, or a damaged one."""
    oddness = chance.choice([0, 0.02, 0.1, 0.3])
    line = "{" + _members(_fields(chance, oddness), chance, oddness) + "}"
    if chance.random() < oddness:
        line += chance.choice([" ", "\r", " x", "{}", ",", "\x00", "\t"])
    if chance.random() < oddness:
        at = chance.randrange(len(line))
        put = chance.choice(
            ["", ",", '"', "}", "{", "\\", " ", "null", "true", '"x":1,', "\u2028", "\u00a0", "\x07"]
        )
        line = line[:at] + put + line[at + chance.randrange(3) :]
    return line.replace("\n", "")


def _fields(chance: Random, oddness: float) -> dict[str, str]:
    def usually(usual: str, *strange: list[str]) -> str:
        return chance.choice(chance.choice(strange)) if chance.random() < oddness else usual

    measures = {
        "temperature": usually(json.dumps(round(chance.uniform(-40, 60), 2)), NUMBERS, TEXTS, OTHERS),
        "sound": usually(
            repr(chance.uniform(0, 1e3) * 10.0 ** chance.randrange(-30, 30)), NUMBERS, TEXTS, OTHERS
        ),
        "air_pressure": usually(str(chance.randrange(-(10**12), 10**12)), NUMBERS, OTHERS),
    }
    fields = {
        "gateway": usually('"G1"', TEXTS, NUMBERS, OTHERS),
        "mote": chance.choice(MOTES),
        "seq": usually(str(chance.randrange(10**6)), NUMBERS, OTHERS),
        "received_at": usually(f'"2031-05-09T07:00:00.{chance.randrange(10**6)}Z"', TIMES, TIMES, OTHERS),
        "rssi_dbm": usually("-71", NUMBERS, OTHERS, TEXTS),
        "battery_v": usually(chance.choice(["3.01", "null"]), NUMBERS, OTHERS),
        "readings": usually("{" + _members(measures, chance, oddness) + "}", OTHERS, NUMBERS, TEXTS),
    }
    return {name: value for name, value in fields.items() if chance.random() >= oddness / 3}


def _members(fields: dict[str, str], chance: Random, oddness: float) -> str:
    pairs = [(f'"{name}"', value) for name, value in fields.items()]
    if chance.random() < oddness:
        name = chance.choice([chance.choice(TEXTS), f'"{chance.choice(NAMES)}"', '"note"', '"note"'])
        pairs.append((name, chance.choice(chance.choice([NUMBERS, TEXTS, TIMES, OTHERS]))))
        chance.shuffle(pairs)
    colon = chance.choice([":", ": "])
    comma = (
        chance.choice([",", ", "])
        if chance.random() >= oddness / 4
        else chance.choice([" ,", "", ",,", "\t,\r "])
    )
    ending = "" if chance.random() >= oddness / 4 else chance.choice([",", ", ", ",\t", "\x00"])
    return comma.join(f"{name}{colon}{value}" for name, value in pairs) + ending
