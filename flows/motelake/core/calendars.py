"""iCalendar files (RFC 5545) of programme/ as programme events.

LOCATION is the zone (several joined by +), the first of CATEGORIES the kind, SUMMARY the title, UID the
event; an instance of a recurring entry adds its start to the UID. Times without a zone are of the campaign's
zone. Entries that do not touch the campaign, and cancelled ones, are left out. A library expands recurrences;
ends are computed here, since its ends across a clock change contradict the standard.
"""

import re
from collections.abc import Callable, Collection, Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta, tzinfo
from hashlib import sha256
from typing import Any

from motelake.core.calendar_file import duration_of, parse_calendar, row_of
from motelake.core.cells import check_characters, read_names
from motelake.core.durations import end_of, instant_of
from motelake.core.names import is_name
from motelake.core.problems import Problems, shown, unknown
from motelake.core.programme import ProgrammeEvent
from motelake.core.tables import Table

# An end by the library is off by a clock change, and a floating time by an offset: never by two days.
_MARGIN = timedelta(days=2)
_INSTANCES_PER_FILE = 10_000
_UID_LENGTH = 47


@dataclass(frozen=True, slots=True)
class CalendarEvent:
    """An event with the file and row it comes from."""

    file: str
    row: int
    event: ProgrammeEvent


def read_calendars(
    files: Mapping[str, bytes], zone: tzinfo, starts_at: datetime, ends_at: datetime, problems: Problems
) -> list[CalendarEvent]:
    """The events of all *.ics files of programme/ that touch [starts_at, ends_at), by file and start.

    `zone` is the campaign's; mistakes go to `problems`.
    """
    return [
        event
        for file in sorted(files)
        if file.startswith("programme/") and file.lower().endswith(".ics")
        for event in _events_of(file, files[file], zone, (starts_at, ends_at), problems)
    ]


def check_calendars(events: list[CalendarEvent], programme: Table, zones: Table, problems: Problems) -> None:
    """Note events in zones that are not known, and events that are there twice or in programme.csv too."""
    told: set[tuple[str, int, str]] = set()
    place_of = dict.fromkeys(programme.names("event") or (), programme.file)
    known = zones.names("zone")
    for found in events:
        mistakes = [
            ("LOCATION", unknown(zone, f"is no zone of {zones.file}", known))
            for zone in found.event.zones
            if known is not None and zone not in known
        ]
        if found.event.event in place_of:
            what = (
                f"{shown(found.event.event)} is already in {place_of[found.event.event]}; keep one of the two"
            )
            mistakes.append(("UID", what))
        place_of[found.event.event] = f"row {found.row} of {found.file}"
        for column, what in mistakes:
            # All instances of a recurring entry share a mistake, which is told once.
            if (found.file, found.row, column) not in told:
                problems.add(found.file, what, row=found.row, column=column)
            told.add((found.file, found.row, column))


def _events_of(
    file: str, content: bytes, zone: tzinfo, window: tuple[datetime, datetime], problems: Problems
) -> Iterator[CalendarEvent]:
    for calendar in parse_calendar(file, content, zone, problems):
        recurring = {
            str(entry["UID"])
            for entry in calendar.walk("VEVENT")
            if any(name in entry for name in ("RRULE", "RDATE", "RECURRENCE-ID"))
        }
        for instance in _instances(file, calendar, window, problems):
            event = _event(file, instance, zone, recurring, problems)
            if event and event.ends_at > window[0] and event.starts_at < window[1]:
                yield CalendarEvent(file, row_of(instance), event)


def _instances(file: str, calendar: Any, window: tuple[datetime, datetime], problems: Problems) -> list[Any]:
    from recurring_ical_events import of

    try:
        instances = of(calendar).between(window[0] - _MARGIN, window[1] + _MARGIN)
    # Rules that contradict themselves surface here, as errors of many kinds, and none is a fault of ours.
    except Exception as mistake:
        what = f"its recurrences cannot be expanded ({str(mistake)[:200]}); correct RRULE"
        problems.add(file, what)
        return []
    if len(instances) > _INSTANCES_PER_FILE:
        problems.add(file, f"has more than {_INSTANCES_PER_FILE} events in the campaign; is RRULE right?")
        return []
    return [instance for instance in instances if str(instance.get("STATUS", "")).upper() != "CANCELLED"]


def _event(
    file: str, instance: Any, zone: tzinfo, recurring: Collection[str], problems: Problems
) -> ProgrammeEvent | None:
    start, uid = instance["DTSTART"].dt, str(instance["UID"])
    readers: dict[str, Callable[[], Any]] = {
        "DTSTART": lambda: instant_of(start, zone),
        "DTEND": lambda: end_of(start, duration_of(instance), zone),
        "SUMMARY": lambda: _text(instance.get("SUMMARY")),
        "CATEGORIES": lambda: _text(_first_category(instance)),
        "LOCATION": lambda: _zone(_text(instance.get("LOCATION"))),
    }
    values = {}
    for name, read in readers.items():
        try:
            values[name] = read()
        except (ValueError, OverflowError) as mistake:
            problems.add(file, str(mistake), row=row_of(instance), column=name)
    if len(values) < len(readers):
        return None
    stamp = f":{values['DTSTART']:%Y%m%dT%H%M%SZ}" if uid in recurring else ""
    return ProgrammeEvent(
        event=_name_of(uid) + stamp,
        title=values["SUMMARY"],
        kind=values["CATEGORIES"],
        zone=values["LOCATION"],
        starts_at=values["DTSTART"],
        ends_at=values["DTEND"],
    )


def _name_of(uid: str) -> str:
    """The UID where it is a name, else what of it can be one and a hash that keeps two such apart."""
    if len(uid) <= _UID_LENGTH and is_name(uid):
        return uid
    readable = re.sub(r"[^A-Za-z0-9_.:-]+", "-", uid).lstrip("_.:-")[: _UID_LENGTH - 9]
    return f"{readable or 'event'}-{sha256(uid.encode()).hexdigest()[:8]}"


def _first_category(instance: Any) -> Any:
    categories = instance.get("CATEGORIES")
    first = categories[0] if isinstance(categories, list) else categories
    return first.cats[0] if first is not None and first.cats else None


def _text(value: Any) -> str | None:
    # Calendars break long titles over lines; a title here is one line.
    return check_characters(" ".join(str(value or "").split())) or None


def _zone(location: str | None) -> str | None:
    return read_names(location) if location else None
