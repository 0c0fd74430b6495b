"""Instants as RFC 3339 writes them, read strictly: an instant without a zone is none.

Python's own reader takes a time without a zone, the week and basic forms of ISO 8601, and refuses the lower
case letters and leap seconds that RFC 3339 allows; hence this one.
"""

import re
from datetime import UTC, datetime, timedelta, timezone

_INSTANT = re.compile(
    r"(?P<day>\d{4}-\d\d-\d\d)[Tt](?P<hour>\d\d):(?P<minute>\d\d):(?P<second>\d\d)(?:\.(?P<fraction>\d+))?"
    r"(?P<zone>[Zz]|(?P<sign>[+-])(?P<zone_hour>\d\d):(?P<zone_minute>\d\d))",
    re.ASCII,
)
_WITHOUT_ZONE = re.compile(r"\d{4}-\d\d-\d\d[Tt ]\d\d:\d\d(:\d\d(\.\d+)?)?", re.ASCII)
_EXAMPLE = "write it like 2031-05-09T07:00:00Z or 2031-05-09T08:00:00+01:00"


def parse_instant(text: str) -> datetime:
    """The instant in UTC that an RFC 3339 date-time names.

    Digits past the microsecond are cut. A leap second is the first second after it. Raises ValueError with
    a phrase that says what is wrong. Source: RFC 3339, sections 5.6 and 5.7.
    """
    match = _INSTANT.fullmatch(text)
    if match is None:
        if _WITHOUT_ZONE.fullmatch(text):
            raise ValueError(f"{text!r} has no time zone; {_EXAMPLE}")
        raise ValueError(f"{text!r} is no RFC 3339 time; {_EXAMPLE}")
    hour, minute, second = int(match["hour"]), int(match["minute"]), int(match["second"])
    if hour == 24:
        raise ValueError(f"{text!r} has hour 24; write 00:00:00 of the next day")
    is_leap_second = second == 60
    microsecond = int((match["fraction"] or "")[:6].ljust(6, "0"))
    try:
        local = datetime.fromisoformat(match["day"]).replace(
            hour=hour, minute=minute, second=59 if is_leap_second else second, microsecond=microsecond
        )
        instant = local.replace(tzinfo=_zone(match)).astimezone(UTC)
        if is_leap_second:
            instant += timedelta(seconds=1)
    except (ValueError, OverflowError):
        raise ValueError(f"{text!r} is not in the calendar; {_EXAMPLE}") from None
    if is_leap_second and (instant.day, instant.hour, instant.minute, instant.second) != (1, 0, 0, 0):
        raise ValueError(f"{text!r} has second 60 where no leap second can be, the end of a month in UTC")
    return instant


def format_instant(instant: datetime) -> str:
    """The RFC 3339 form in UTC, ending in Z, with microseconds only where there are any."""
    return instant.astimezone(UTC).isoformat().replace("+00:00", "Z")


def _zone(match: re.Match[str]) -> timezone:
    if match["sign"] is None:
        return UTC
    hours, minutes = int(match["zone_hour"]), int(match["zone_minute"])
    if hours > 23 or minutes > 59:
        raise ValueError("an offset is at most 23:59")
    offset = timedelta(hours=hours, minutes=minutes)
    return timezone(-offset if match["sign"] == "-" else offset)
