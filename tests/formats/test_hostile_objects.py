"""Any bytes under any name: no crash, no lost line, nothing in the rows that must not be there."""

import gzip
import math
from dataclasses import replace
from typing import Any

import pytest
import zstandard
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from motelake.core.reasons import LineReason, ReadingReason
from motelake.formats.elements import cut_elements
from motelake.formats.objects import KNOWN_ENDINGS
from motelake.formats.plan import ReadingPlan

PIECES = [
    *(
        b'{"mote":"M1","received_at":"2031-05-09T07:00:03Z","seq":7,"readings":{"sound":58.2}}',
        b"{",
        b"}",
        b"[",
        b"]",
    ),
    *(
        b"mote,received_at,measure,value",
        b"M1,2031-05-09T07:00:03Z,sound,58.2",
        b"mote,value,received_at,measure,n",
    ),
    *(
        b'{"bn":"M1:","bt":1936076403,"n":"sound","u":"dB","v":58.2}',
        b'{"n":"sound","v":1}',
        b'"bver":11',
        b'"n":',
    ),
    *(
        b"\n",
        b"\r\n",
        b",",
        b'"',
        b"\\",
        b"\x00",
        b"\xff",
        b"\xef\xbb\xbf",
        b"\xed\xa0\x80",
        b" ",
        b"\t",
        b":",
    ),
    *(
        b"NaN",
        b"1e999",
        b"-0",
        b"null",
        b"true",
        b"58.2",
        b"9" * 400,
        b"[" * 300,
        b"x" * 2500,
        b"\xe2\x80\xa8",
    ),
    *(
        b"\x1f\x8b\x08\x00",
        b"\x28\xb5\x2f\xfd",
        b'"readings"',
        b'"mote":"M1"',
        b'{"a":',
        b"\\ud800",
        b"<script>",
    ),
]
contents = st.one_of(
    st.lists(st.sampled_from(PIECES), max_size=25).map(b"".join),
    st.lists(st.one_of(st.sampled_from(PIECES), st.binary(max_size=12)), max_size=25).map(b"".join),
)


@st.composite
def hostile_objects(draw: st.DrawFn) -> tuple[str, bytes]:
    """A name that can be read and content that may be damaged before or after it was compressed."""
    ending = draw(st.sampled_from(KNOWN_ENDINGS))
    content = draw(contents)
    if ending.startswith(".senml") and draw(st.booleans()):
        content = b"[" + content + b"]"
    if draw(st.integers(0, 9)):
        content = gzip.compress(content) if ending.endswith(".gz") else content
        content = zstandard.compress(content) if ending.endswith(".zst") else content
    if not draw(st.integers(0, 3)) and content:
        at = draw(st.integers(0, len(content) - 1))
        content = draw(st.sampled_from([content[:at], content[:at] + b"\xff" + content[at + 1 :]]))
    return f"raw/a{ending}", content


@settings(max_examples=1500, deadline=None, suppress_health_check=list(HealthCheck))
@given(hostile=hostile_objects())
def test_any_object_is_read_to_its_end_and_accounted_for(
    hostile: tuple[str, bytes], read: Any, plan: ReadingPlan
) -> None:
    name, content = hostile
    outcome = read(content, name=name)
    count = outcome.count
    assert count.size == len(content)
    assert count.lines_parsed == len(outcome.hearings)
    assert count.lines_rejected == len(outcome.line_rejects)
    assert count.reading_rejects == len(outcome.reading_rejects)
    lines = [row["line"] for row in outcome.hearings + outcome.line_rejects]
    assert len(set(lines)) == len(lines)
    assert {row["reason"] for row in outcome.line_rejects} <= set(LineReason)
    assert {row["reason"] for row in outcome.reading_rejects} <= set(ReadingReason)
    for row in outcome.hearings:
        assert row["mote"] in plan.motes
        assert plan.starts_at <= row["received_at"] < plan.accepts_until
        assert all(math.isfinite(value) for value in row.values() if isinstance(value, float))
    for row in outcome.line_rejects + outcome.reading_rejects:
        assert row["mote"] is None or row["mote"] in plan.motes


@settings(max_examples=300, deadline=None, suppress_health_check=list(HealthCheck))
@given(content=contents, cut=st.integers(1, 50))
def test_packs_come_out_the_same_however_the_stream_is_cut(content: bytes, cut: int) -> None:
    content = b"[" + content
    pieces = [content[i : i + cut] for i in range(0, len(content), cut)]
    assert list(cut_elements(pieces, 2000)) == list(cut_elements([content], 2000))


@pytest.mark.parametrize(
    "ending", [".jsonl.gz", ".csv.gz", ".senml.json.gz", ".jsonl.zst", ".senml.json.zst"]
)
@pytest.mark.parametrize("filling", [b"\n", b" ", b"[", b"x", b"\x00", b'"', b"{}\n", b'{"n":"'])
def test_a_small_object_that_unpacks_to_a_huge_one_is_refused(
    read: Any, plan: ReadingPlan, ending: str, filling: bytes
) -> None:
    small = replace(plan, bytes_per_object=2**20)
    content = filling * (small.bytes_per_object // len(filling) + 1)
    packed = gzip.compress(content, 1) if ending.endswith(".gz") else zstandard.compress(content)
    outcome = read(packed, name=f"raw/bomb{ending}", by=small)
    assert "bytes_per_object" in outcome.account.reason
    assert outcome.hearings == outcome.line_rejects == []
