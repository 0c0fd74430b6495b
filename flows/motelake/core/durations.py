"""How long a calendar entry lasts, and when it ends in UTC.

Days of a calendar are nominal, the same wall clock on a later day; hours, minutes and seconds are exact. The
two differ where clocks change between start and end. Source: RFC 5545, sections 3.3.5, 3.3.6 and 3.8.5.3.
"""

import re
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta, tzinfo

_DURATION = re.compile(
    r"(?P<sign>[+-]?)P(?:(?P<weeks>\d+)W"
    r"|(?P<days>\d+)D(?:T(?=\d)(?:(?P<h>\d+)H)?(?:(?P<m>\d+)M)?(?:(?P<s>\d+)S)?)?"
    r"|T(?=\d)(?:(?P<hours>\d+)H)?(?:(?P<minutes>\d+)M)?(?:(?P<seconds>\d+)S)?)",
    re.ASCII,
)


@dataclass(frozen=True, slots=True)
class Duration:
    """Nominal days, and exact seconds after them."""

    days: int
    seconds: int


def parse_duration(text: str) -> Duration:
    """The duration that an iCalendar DURATION names; raises ValueError with what is wrong."""
    match = _DURATION.fullmatch(text.strip().upper())
    if match is None:
        raise ValueError(f"{text[:60]!r} is no duration; write it like PT1H30M or P1D")
    weeks, days, *times = (
        int(match[name] or 0) for name in ("weeks", "days", "h", "m", "s", "hours", "minutes", "seconds")
    )
    hours, minutes, seconds = (times[part] + times[part + 3] for part in range(3))
    sign = -1 if match["sign"] == "-" else 1
    return Duration(sign * (weeks * 7 + days), sign * (hours * 3600 + minutes * 60 + seconds))


def duration_between(start: date, end: date, zone: tzinfo) -> Duration:
    """What DTSTART and DTEND say of every instance: days between dates, exact seconds between times."""
    if isinstance(start, datetime) != isinstance(end, datetime):
        raise ValueError("one of start and end is a day, the other a time of day; write both alike")
    if isinstance(start, datetime):
        return Duration(0, round((instant_of(end, zone) - instant_of(start, zone)).total_seconds()))
    return Duration((end - start).days, 0)


def instant_of(local: date, zone: tzinfo) -> datetime:
    """The instant in UTC of a calendar's date (its first midnight) or time; `zone` is for those without one.

    A wall clock time that comes twice is the first of the two; one that is skipped is read by the offset
    before the gap.
    """
    if not isinstance(local, datetime):
        local = datetime.combine(local, time())
    return local.replace(tzinfo=local.tzinfo or zone, fold=0).astimezone(UTC)


def end_of(start: date, duration: Duration, zone: tzinfo) -> datetime:
    """The instant in UTC at which an entry ends that starts so and lasts so long."""
    later = start + timedelta(days=duration.days)
    return instant_of(later, zone) + timedelta(seconds=duration.seconds)
