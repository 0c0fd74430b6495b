"""RFC 3339 (2002): strings of sections 5.6 to 5.8, and those that parsers are known to get wrong."""

from contextlib import suppress
from datetime import UTC, datetime, timedelta, timezone

import pytest
from hypothesis import given
from hypothesis import strategies as st

from motelake.core.instants import format_instant, parse_instant


@pytest.mark.parametrize(
    ("text", "instant"),
    [
        # RFC 3339, section 5.8, the printed examples.
        ("1985-04-12T23:20:50.52Z", "1985-04-12T23:20:50.520000Z"),
        ("1996-12-19T16:39:57-08:00", "1996-12-20T00:39:57Z"),
        ("1990-12-31T23:59:60Z", "1991-01-01T00:00:00Z"),
        ("1990-12-31T15:59:60-08:00", "1991-01-01T00:00:00Z"),
        ("1937-01-01T12:00:27.87+00:20", "1937-01-01T11:40:27.870000Z"),
        # Section 5.6: T and Z may be lower case. Section 4.3: -00:00 is UTC with the local offset unknown.
        ("1985-04-12t23:20:50.52z", "1985-04-12T23:20:50.520000Z"),
        ("2024-06-01T12:00:00-00:00", "2024-06-01T12:00:00Z"),
        # Digits past the microsecond are cut, never rounded into the next second: common practice.
        ("2024-06-01T12:00:00.999999999Z", "2024-06-01T12:00:00.999999Z"),
    ],
)
def test_a_time_of_the_standard_is_read(text: str, instant: str) -> None:
    assert format_instant(parse_instant(text)) == instant


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("2024-06-01T24:00:00Z", "hour 24"),
        ("2024-06-01T12:00:00", "no time zone"),
        ("2024-06-01 12:00", "no time zone"),
        ("20240601T120000Z", "no RFC 3339 time"),
        ("2024-06-01", "no RFC 3339 time"),
        ("2024-06-01T12:00Z", "no RFC 3339 time"),
        ("2024-W22-6T12:00:00Z", "no RFC 3339 time"),
        ("2024-06-01T12:00:00,5Z", "no RFC 3339 time"),
        ("2024-06-01T12:00:00.Z", "no RFC 3339 time"),
        ("2024-06-01T12:00:00+0100", "no RFC 3339 time"),
        ("٢٠٢٤-06-01T12:00:00Z", "no RFC 3339 time"),
        ("", "no RFC 3339 time"),
        ("2023-02-29T00:00:00Z", "not in the calendar"),
        ("2024-06-01T12:60:00Z", "not in the calendar"),
        ("2024-06-01T12:00:00+24:00", "not in the calendar"),
        ("0001-01-01T00:00:00+01:00", "not in the calendar"),
        ("9999-12-31T23:59:60Z", "not in the calendar"),
        ("2024-06-01T12:00:60Z", "second 60"),
        ("2024-06-15T23:59:60Z", "second 60"),
    ],
)
def test_what_is_no_time_is_refused_with_its_reason(text: str, why: str) -> None:
    with pytest.raises(ValueError, match=why):
        parse_instant(text)


@given(
    st.datetimes(min_value=datetime(1, 1, 3), max_value=datetime(9999, 12, 29)),
    st.integers(min_value=-23 * 60 - 59, max_value=23 * 60 + 59),
)
def test_every_time_in_every_offset_reads_back_as_the_same_instant(local: datetime, offset_min: int) -> None:
    written = local.replace(tzinfo=timezone(timedelta(minutes=offset_min)))
    assert parse_instant(written.isoformat()) == written
    assert parse_instant(format_instant(written)).tzinfo is UTC


@given(st.text(max_size=40))
def test_any_text_is_a_time_or_a_reason(text: str) -> None:
    with suppress(ValueError):
        assert parse_instant(text).tzinfo is UTC
