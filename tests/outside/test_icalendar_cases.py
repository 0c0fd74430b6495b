"""Recurrences and durations of RFC 5545; each case names its section in standards/icalendar_cases.json."""

import json
from datetime import UTC, datetime
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from motelake.core.calendars import read_calendars
from motelake.core.instants import format_instant
from motelake.core.problems import Problems
from motelake.core.programme import ProgrammeEvent

_CASES = json.loads((Path(__file__).parent / "standards" / "icalendar_cases.json").read_text())["cases"]


def _case(name: str) -> dict[str, Any]:
    return next(case for case in _CASES if case["id"] == name)


def _events(properties: str, zone: str = "America/New_York", ends_year: int = 2030) -> list[ProgrammeEvent]:
    lines = ["BEGIN:VCALENDAR", "VERSION:2.0", "PRODID:-//depot fair//EN", "BEGIN:VEVENT", "UID:case"]
    lines += ["DTSTAMP:19970101T000000Z", *properties.split("\n"), "END:VEVENT", "END:VCALENDAR", ""]
    window = datetime(1997, 1, 1, tzinfo=UTC), datetime(ends_year, 1, 1, tzinfo=UTC)
    problems = Problems()
    files = {"programme/case.ics": "\r\n".join(lines).encode()}
    found = read_calendars(files, ZoneInfo(zone), *window, problems)
    assert problems.sentences() == []
    return [event.event for event in found]


@pytest.mark.parametrize("name", ["R1", "R2", "R3", "R4", "R5", "R6", "R8"])
def test_a_recurrence_starts_when_the_standard_says(name: str) -> None:
    case = _case(name)
    starts = [format_instant(event.starts_at) for event in _events(case["ical"] + "\nDURATION:PT1H")]
    assert len(starts) == case["count"]
    assert starts[: len(case["starts_at"])] == case["starts_at"]


def test_r3_daily_until_christmas_eve_ends_on_the_23rd() -> None:
    last = _events(_case("R3")["ical"] + "\nDURATION:PT1H")[-1]
    assert format_instant(last.starts_at) == "1997-12-23T14:00:00Z"


def test_r7_friday_the_13th_without_its_excluded_start_falls_on_the_printed_days() -> None:
    case = _case("R7")
    starts = [
        format_instant(event.starts_at) for event in _events(case["ical"] + "\nDURATION:PT1H", ends_year=2001)
    ]
    assert starts == case["starts_at"]


@pytest.mark.parametrize("name", ["D1", "D2", "D3", "D4", "D5", "D6"])
def test_an_event_starts_and_ends_when_the_standard_says(name: str) -> None:
    case = _case(name)
    (event,) = _events(case["ical"])
    assert [format_instant(event.starts_at)] == case["starts_at"]
    assert [format_instant(event.ends_at)] == case["ends_at"]


def test_d7_a_floating_time_is_on_the_clock_of_the_campaign() -> None:
    (event,) = _events(_case("D7")["ical"], zone="Europe/Lisbon")
    assert format_instant(event.starts_at) == "2024-06-01T18:00:00Z"
    assert format_instant(event.ends_at) == "2024-06-01T19:00:00Z"


def test_a_dtend_lasts_equally_long_in_every_instance() -> None:
    # RFC 5545, section 3.8.5.3: with DTEND the same exact duration applies to all members of the set.
    # Clocks go back in the night to 2 November 2025, so two nights from 22:00 to 06:00 differ by an hour.
    properties = (
        "DTSTART;TZID=America/New_York:20251031T220000\n"
        "DTEND;TZID=America/New_York:20251101T060000\n"
        "RRULE:FREQ=DAILY;COUNT=2"
    )
    assert [format_instant(event.ends_at) for event in _events(properties)] == [
        "2025-11-01T10:00:00Z",
        "2025-11-02T10:00:00Z",
    ]


def test_a_nominal_day_lasts_from_wall_clock_to_wall_clock_in_every_instance() -> None:
    # RFC 5545, section 3.8.5.3: with DURATION the same nominal duration applies to all members of the set.
    properties = "DTSTART;TZID=America/New_York:20251031T120000\nDURATION:P1D\nRRULE:FREQ=DAILY;COUNT=3"
    assert [format_instant(event.ends_at) for event in _events(properties)] == [
        "2025-11-01T16:00:00Z",
        "2025-11-02T17:00:00Z",
        "2025-11-03T17:00:00Z",
    ]
