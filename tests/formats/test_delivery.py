"""How an object comes: compressed, cut off, too large, with strange line ends, under a strange name."""

import gzip
import hashlib
import io
import zlib
from functools import partial
from typing import Any

import pytest
import zstandard

from motelake.errors import UnknownFormatError
from motelake.formats import json_lines
from motelake.formats.objects import KNOWN_ENDINGS, RawObject, parse_objects, split_ending
from motelake.formats.plan import ObjectRefused, ReadingPlan
from motelake.formats.staging import Staging

LINE = b'{"mote":"M1","received_at":"2031-05-09T07:00:03Z","readings":{"sound":58.2}}'
COMPRESSED = [("", bytes), (".gz", gzip.compress), (".zst", zstandard.compress)]


@pytest.mark.parametrize(("ending", "compress"), COMPRESSED)
@pytest.mark.parametrize("lines", [1, 3, 3000])
def test_every_compression_gives_the_same_rows(read: Any, ending: str, compress: Any, lines: int) -> None:
    content = compress(b"\n".join([LINE] * lines))
    outcome = read(content, name=f"raw/a.jsonl{ending}")
    assert [row["line"] for row in outcome.hearings] == list(range(1, lines + 1))
    assert outcome.count.size == len(content)
    assert outcome.count.sha256 == hashlib.sha256(content).hexdigest()


@pytest.mark.parametrize(("ending", "compress"), COMPRESSED[1:])
def test_parts_compressed_one_by_one_are_read_as_one(read: Any, ending: str, compress: Any) -> None:
    outcome = read(compress(LINE + b"\n" + LINE[:30]) + compress(LINE[30:]), name=f"raw/a.jsonl{ending}")
    assert outcome.count.lines_parsed == 2


@pytest.mark.parametrize(("ending", "compress"), COMPRESSED[1:])
def test_lines_before_the_cut_stay_and_the_cut_is_told(read: Any, ending: str, compress: Any) -> None:
    noise = "".join(
        f'{{"mote":"M1","received_at":"2031-05-09T07:00:{i % 60:02}.{i:06}Z","readings":{{}}}}\n'
        for i in range(9000)
    )
    whole = compress(noise.encode())
    outcome = read(whole[: len(whole) // 2], name=f"raw/a.jsonl{ending}")
    parsed = outcome.count.lines_parsed
    assert 0 < parsed < 9000
    assert [row["line"] for row in outcome.hearings] == list(range(1, parsed + 1))
    assert outcome.line_rejects == [{"line": parsed + 1, "reason": "truncated", "mote": None}]


@pytest.mark.parametrize(
    "name", ["raw/a.jsonl.gz", "raw/a.jsonl.zst", "raw/a.csv.gz", "raw/a.senml.json.zst"]
)
@pytest.mark.parametrize("content", [b"not compressed", b"\x1f\x8b", b"\x28\xb5\x2f\xfd", b"\x00\x00\x00"])
def test_what_is_not_compressed_as_named_is_one_reject(read: Any, name: str, content: bytes) -> None:
    outcome = read(content, name=name)
    assert outcome.line_rejects == [{"line": 1, "reason": "truncated", "mote": None}]


def test_a_wrong_checksum_is_told_and_whole_lines_stay(read: Any) -> None:
    content = bytearray(gzip.compress(LINE + b"\n" + LINE + b"\n"))
    content[-6] ^= 1
    outcome = read(bytes(content), name="raw/a.jsonl.gz")
    assert outcome.count.rejected == {"truncated": 1}


def test_zeros_after_a_gzip_member_are_padding(read: Any) -> None:
    outcome = read(gzip.compress(LINE) + bytes(512), name="raw/a.jsonl.gz")
    assert (outcome.count.lines_parsed, outcome.count.rejected) == (1, {})


@pytest.mark.parametrize(
    "name", ["a.jsonl", "a.jsonl.gz", "a.jsonl.zst", "a.csv", "a.csv.gz", "a.senml.json"]
)
def test_an_empty_object_has_no_lines(read: Any, name: str) -> None:
    outcome = read(b"", name=name)
    assert (outcome.count.lines_read, outcome.count.size) == (0, 0)


@pytest.mark.parametrize(("ending", "compress"), COMPRESSED)
def test_an_object_beyond_the_cap_is_refused_and_leaves_nothing(
    read: Any, plan: ReadingPlan, ending: str, compress: Any
) -> None:
    content = compress((LINE + b"\n") * (plan.bytes_per_object // len(LINE)))
    outcome = read(content, name=f"raw/bomb.jsonl{ending}")
    assert isinstance(outcome.account, ObjectRefused)
    assert "raw/bomb.jsonl" in outcome.account.reason
    assert outcome.account.sha256 == hashlib.sha256(content).hexdigest()
    assert outcome.hearings == outcome.line_rejects == []


def test_a_refused_object_takes_nothing_from_the_others(engine: Any, plan: ReadingPlan) -> None:
    content = {"raw/a.jsonl": LINE, "raw/b.jsonl": LINE * 300_000, "raw/c.jsonl": LINE}
    with Staging(engine, plan) as staging:
        parse_objects([RawObject(name, partial(io.BytesIO, content[name])) for name in content], staging)
    rows = engine.sql("select object, line from staged_hearing order by all").fetchall()
    assert rows == [("raw/a.jsonl", 1), ("raw/c.jsonl", 1)]


class _Failing(io.BytesIO):
    def read(self, size: int | None = -1, /) -> bytes:
        if self.tell() > 2**20:
            raise OSError("the store is gone")
        return super().read(size)


def test_an_error_of_the_store_comes_out_as_it_is_and_leaves_nothing(engine: Any, plan: ReadingPlan) -> None:
    content = (LINE + b"\n") * 40_000
    failing = RawObject("raw/b.jsonl", lambda: _Failing(content))
    whole = [RawObject(name, lambda: io.BytesIO(LINE)) for name in ("raw/a.jsonl", "raw/c.jsonl")]
    with pytest.raises(OSError, match="the store is gone"), Staging(engine, plan) as staging:
        parse_objects([whole[0], failing, whole[1]], staging)
    assert engine.sql("select object from staged_hearing").fetchall() == []
    with Staging(engine, plan) as staging:
        parse_objects(whole, staging)
    assert engine.sql("select object from staged_hearing order by all").fetchall() == [
        ("raw/a.jsonl",),
        ("raw/c.jsonl",),
    ]


@pytest.mark.parametrize("lines_at_once", [1, 7, 500_000])
def test_objects_read_together_come_out_as_each_alone(
    read: Any, engine: Any, plan: ReadingPlan, monkeypatch: pytest.MonkeyPatch, lines_at_once: int
) -> None:
    odd = [
        b"{",
        LINE[:-1] + b',"x":1}',
        LINE.replace(b"M1", b"M9"),
        LINE.replace(b"58.2", b"NaN"),
        b"\xff",
        b" ",
    ]
    contents = {f"raw/{i}.jsonl": b"\n".join([LINE] * i + odd[i % 7 :]) for i in range(20)}
    contents["raw/a.csv"] = b"mote,received_at,measure,value\nM1,2031-05-09T07:00:03Z,sound,58.2\nM1\n"
    monkeypatch.setattr(json_lines, "_FEW_LINES", -1)
    monkeypatch.setattr(json_lines, "_LINES_AT_ONCE", lines_at_once)
    objects = [RawObject(name, partial(io.BytesIO, content)) for name, content in contents.items()]
    with Staging(engine, plan) as staging:
        accounts = parse_objects(objects, staging)
    together = {name: _rows_of(engine, name) for name in contents}
    for name, content in contents.items():
        assert read(content, name=name).account == accounts[name]
        assert _rows_of(engine, name) == together[name]


def _rows_of(engine: Any, name: str) -> list[Any]:
    tables = ("staged_hearing", "staged_line_reject", "staged_reading_reject")
    return [
        engine.execute(f"from {table} where object = ? order by all", [name]).fetchall() for table in tables
    ]


def _gone() -> io.BytesIO:
    raise FileNotFoundError


class _Vanishing(_Failing):
    def read(self, size: int | None = -1, /) -> bytes:
        try:
            return super().read(size)
        except OSError:
            raise FileNotFoundError from None


@pytest.mark.parametrize("ending", [".jsonl", ".csv"])
def test_an_object_that_is_taken_away_has_no_account_and_no_rows(
    engine: Any, plan: ReadingPlan, ending: str
) -> None:
    content = (LINE + b"\n") * 40_000
    objects = [
        RawObject("raw/a.jsonl", lambda: io.BytesIO(LINE)),
        RawObject(f"raw/b{ending}", _gone),
        RawObject(f"raw/c{ending}", lambda: _Vanishing(content)),
        RawObject("raw/d.jsonl", lambda: io.BytesIO(b"{")),
    ]
    with Staging(engine, plan) as staging:
        accounts = parse_objects(objects, staging)
    assert set(accounts) == {"raw/a.jsonl", "raw/d.jsonl"}
    assert engine.sql("select object from staged_hearing").fetchall() == [("raw/a.jsonl",)]
    assert engine.sql("select object from staged_line_reject").fetchall() == [("raw/d.jsonl",)]


def test_line_ends_of_other_systems_and_empty_lines_are_no_lines(read: Any) -> None:
    outcome = read(LINE + b"\r\n\r\n\n  \t\n" + LINE)
    assert [row["line"] for row in outcome.hearings] == [1, 5]
    assert outcome.count.lines_read == 2


def test_a_byte_order_mark_is_no_part_of_the_first_line(read: Any) -> None:
    assert read(b"\xef\xbb\xbf" + LINE).count.lines_parsed == 1
    assert read(b"\xef\xbb\xbf").count.lines_read == 0


@pytest.mark.parametrize("lines", [1, 700])
def test_bytes_that_are_no_text_cost_one_line(read: Any, lines: int) -> None:
    bad = LINE.replace(b"M1", b"M\xff")
    outcome = read(b"\n".join([LINE, bad, LINE.replace(b"M1", b"M\x00")] * lines))
    assert outcome.count.rejected == {"not_json": lines, "not_utf8": lines}
    assert outcome.count.lines_parsed == lines


def test_a_line_beyond_the_limit_is_rejected_however_long_it_is(read: Any, plan: ReadingPlan) -> None:
    limit = plan.bytes_per_line
    fitting, longer = LINE.ljust(limit), LINE.ljust(limit + 1)
    outcome = read(b"\n".join([fitting, longer, b"x" * 5_000_000, LINE, b"y" * 3_000_000]))
    assert [row["line"] for row in outcome.hearings] == [1, 4]
    assert [(row["line"], row["reason"]) for row in outcome.line_rejects] == [
        (2, "line_too_long"),
        (3, "line_too_long"),
        (5, "line_too_long"),
    ]


@pytest.mark.parametrize(
    "name", ["raw/a.json", "raw/a", "raw/jsonl", "raw/.jsonl", "raw/a.jsonl/", "raw/a.JSONL", "raw/a.csv.bz2"]
)
def test_a_name_that_tells_no_format_is_refused(name: str) -> None:
    with pytest.raises(UnknownFormatError) as refused:
        split_ending(name)
    assert name in str(refused.value)
    assert all(ending in str(refused.value) for ending in KNOWN_ENDINGS)


def test_what_comes_out_does_not_depend_on_how_the_stream_is_cut(read: Any) -> None:
    content = b"\n".join([LINE, b"{", LINE[:-1] + b',"x":1}'] * 5)
    packed = zlib.compressobj(wbits=31)
    pieces = b"".join(
        packed.compress(content[i : i + 7]) + packed.flush(zlib.Z_FULL_FLUSH)
        for i in range(0, len(content), 7)
    )
    one, many = read(content), read(pieces + packed.flush(), name="raw/a.jsonl.gz")
    assert one.count.rejected == many.count.rejected == {"not_json": 5}
    assert one.count.dropped == many.count.dropped == {"x": 5}
