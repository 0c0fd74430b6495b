"""One iCalendar file as checked entries, each knowing its row in the file and how long it lasts.

What the parser forgets is carried by properties of our own: the row an entry begins at, and its duration as
written, since a day (P1D) and 24 hours (PT24H) end apart where clocks change.
"""

import re
from collections.abc import Iterator
from datetime import datetime, tzinfo
from typing import Any

from motelake.core.durations import Duration, duration_between, parse_duration
from motelake.core.problems import Problems, read_utf8

_OURS = "X-MOTELAKE-"
_ROW = "X-MOTELAKE-ROW"
_WRITTEN_DURATION = "X-MOTELAKE-DURATION"
_LASTS = "X-MOTELAKE-LASTS"
_SINGLE = ("UID", "DTSTART", "DTEND", "DURATION", "SUMMARY", "LOCATION", "STATUS", "RECURRENCE-ID", "RRULE")
_TIMES = ("DTSTART", "DTEND", "RECURRENCE-ID", "RDATE", "EXDATE")


def parse_calendar(file: str, content: bytes, zone: tzinfo, problems: Problems) -> list[Any]:
    """The calendars of a file, as the library parses them; none where a mistake was noted."""
    # Calendar libraries are slow to load, and most lakes have no such file.
    from icalendar import Calendar
    from icalendar.timezone import tzp

    # The library remembers the zones that calendars define; one file must not be read by those of another.
    tzp.use("zoneinfo")
    found = len(problems)
    text = read_utf8(file, content, problems)
    if text is None:
        return []
    try:
        calendars = list(Calendar.from_ical(_marked(text), multiple=True))
    # The parser raises errors of many kinds at broken input, and none of them is a fault of ours.
    except Exception as mistake:
        problems.add(file, f"is no iCalendar file ({str(mistake)[:200]}); export it again")
        return []
    if not calendars:
        problems.add(file, "holds no calendar; export it again or take it away")
    for calendar in calendars:
        for entry in calendar.walk("VEVENT"):
            _check_entry(file, entry, zone, problems)
    return [] if len(problems) > found else calendars


def row_of(entry: Any) -> int:
    """The line of the file at which an entry, or the one it is an instance of, begins."""
    return int(entry[_ROW])


def duration_of(entry: Any) -> Duration:
    """How long a checked entry lasts, and every instance of it."""
    days, seconds = str(entry[_LASTS]).split()
    return Duration(int(days), int(seconds))


def _marked(text: str) -> str:
    lines: list[str] = []
    nesting: list[str] = []
    for row, line in _unfolded(text):
        name = re.split("[;:]", line, maxsplit=1)[0].strip().upper()
        value = line.rpartition(":")[2].strip()
        if name.startswith(_OURS):
            continue
        lines.append(line)
        if name == "BEGIN":
            nesting.append(value.upper())
            if nesting[-1] == "VEVENT":
                lines.append(f"{_ROW}:{row}")
        elif name == "END" and value.upper() != (nesting.pop() if nesting else ""):
            # The parser would drop what is cut off here, and say nothing.
            raise ValueError(f"row {row}: END:{value} ends nothing that has begun")
        elif name == "DURATION" and nesting[-1:] == ["VEVENT"]:
            lines.append(f"{_WRITTEN_DURATION}:{value}")
    if nesting:
        raise ValueError(f"BEGIN:{nesting[-1]} never ends")
    return "\r\n".join(lines) + "\r\n"


def _unfolded(text: str) -> Iterator[tuple[int, str]]:
    """The content lines with the row each begins at; a line that begins with a space continues the last."""
    row, line = 1, ""
    for number, physical in enumerate(re.split("\r\n|\n|\r", text), start=1):
        if physical[:1] in (" ", "\t"):
            line += physical[1:]
            continue
        if line:
            yield row, line
        row, line = number, physical
    if line:
        yield row, line


def _check_entry(file: str, entry: Any, zone: tzinfo, problems: Problems) -> None:
    mistakes = list(_mistakes_of_form(entry)) or list(_mistakes_of_time(entry))
    if not mistakes:
        try:
            duration = _duration_said(entry, zone)
            if (duration.days, duration.seconds) <= (0, 0):
                raise ValueError("is not after DTSTART; correct one of them")
            entry[_LASTS] = f"{duration.days} {duration.seconds}"
        except (ValueError, OverflowError) as mistake:
            mistakes = [
                ("DURATION" if "DURATION" in entry and "DTEND" not in entry else "DTEND", str(mistake))
            ]
    for column, what in mistakes:
        problems.add(file, what, row=row_of(entry), column=column)


def _mistakes_of_form(entry: Any) -> Iterator[tuple[str, str]]:
    for name, message in entry.errors:
        yield name or "unknown", f"cannot be read ({message[:200]}); correct it"
    for name in _SINGLE:
        if isinstance(entry.get(name), list):
            yield name, "stands there twice; keep one"
    for name in ("UID", "DTSTART"):
        if not entry.get(name):
            yield name, "is missing; every event of a calendar has one"


def _mistakes_of_time(entry: Any) -> Iterator[tuple[str, str]]:
    for name in _TIMES:
        for value in _listed(entry.get(name)):
            for what in _wrong_times(value):
                yield name, what
    rule = entry.get("RRULE", {})
    if {str(word).upper() for word in rule.get("FREQ", ())} & {"SECONDLY", "MINUTELY"}:
        yield "RRULE", "repeats within the hour; a programme repeats hourly at most"
    if min([*rule.get("INTERVAL", ()), *rule.get("COUNT", ())], default=1) < 1:
        # An interval of 0 would be expanded for ever.
        yield "RRULE", "has INTERVAL or COUNT below 1; correct it"


def _wrong_times(value: Any) -> Iterator[str]:
    name = value.params.get("TZID")
    for time in [member.dt for member in value.dts] if hasattr(value, "dts") else [value.dt]:
        if isinstance(time, tuple):
            yield "lists periods; write plain times, or further events of their own"
        elif name and isinstance(time, datetime) and time.tzinfo is None:
            yield f"{str(name)[:60]!r} is no known time zone; use an IANA name such as Europe/Lisbon"


def _listed(value: Any) -> list[Any]:
    if value is None:
        return []
    return value if isinstance(value, list) else [value]


def _duration_said(entry: Any, zone: tzinfo) -> Duration:
    if "DTEND" in entry and "DURATION" in entry:
        raise ValueError("stands beside DURATION; keep one of the two")
    if "DURATION" in entry:
        return parse_duration(str(entry[_WRITTEN_DURATION]))
    start = entry["DTSTART"].dt
    if "DTEND" in entry:
        return duration_between(start, entry["DTEND"].dt, zone)
    if isinstance(start, datetime):
        raise ValueError("is missing, and DURATION too; say when the event ends")
    return Duration(days=1, seconds=0)
