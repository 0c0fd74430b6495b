"""What one key of campaign.toml may say: each reader checks a TOML value, or raises ValueError.

The phrase of the error says what is wrong and what to write instead.
"""

import math
from datetime import UTC, datetime, time
from zoneinfo import ZoneInfo, available_timezones

from motelake.core.instants import parse_instant
from motelake.core.problems import advice, shown


def read_title(value: object) -> str:
    """Text that says something, on one line."""
    if not isinstance(value, str) or not value.strip() or not value.isprintable():
        raise ValueError("is no title; write a line of text in quotation marks")
    return value.strip()


def read_zone_name(value: object) -> str:
    """The name of a time zone of the IANA database."""
    if not isinstance(value, str):
        raise ValueError("is no time zone; write an IANA name in quotation marks, such as 'Europe/Lisbon'")
    try:
        ZoneInfo(value)
    except (OSError, ValueError, KeyError):
        hint = advice(value, available_timezones(), "write one such as 'Europe/Lisbon'")
        raise ValueError(f"{shown(value)} is no IANA time zone; {hint}") from None
    return value


def read_instant_key(value: object) -> datetime:
    """A TOML offset date-time, or the same as text, in UTC."""
    if isinstance(value, str):
        return parse_instant(value)
    if not isinstance(value, datetime):
        raise ValueError("is no time; write it like 2031-05-09T04:00:00Z")
    if value.tzinfo is None:
        raise ValueError(f"{value.isoformat()} has no time zone; end it with Z or an offset such as +01:00")
    try:
        return value.astimezone(UTC)
    except OverflowError:
        raise ValueError(f"{value.isoformat()} is not in the calendar") from None


def read_hours(value: object) -> time:
    """A time of day on the wall clock, as text or as a TOML local time."""
    if isinstance(value, str) and len(value) in (5, 8) and value[2] == ":":
        try:
            return time.fromisoformat(value)
        except ValueError:
            pass
    if isinstance(value, time):
        return value
    raise ValueError('is no time of day; write it like "05:00", from "00:00" to "23:59"')


def read_number_key(value: object) -> float:
    """A finite number."""
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        raise ValueError("is no number; write digits without quotation marks")
    try:
        number = float(value)
    except OverflowError:
        number = math.inf
    if not math.isfinite(number):
        raise ValueError("is no finite number")
    return number


def read_positive(value: object) -> float:
    """A finite number above zero."""
    number = read_number_key(value)
    if number <= 0:
        raise ValueError(f"{number:g} is not above zero")
    return number


def read_not_negative(value: object) -> float:
    """A finite number, zero or above."""
    number = read_number_key(value)
    if number < 0:
        raise ValueError(f"{number:g} is below zero")
    return number


def read_share(value: object) -> float:
    """A share from 0 to 1."""
    number = read_number_key(value)
    if not 0 <= number <= 1:
        raise ValueError(f"{number:g} is no share; write a number from 0 to 1")
    return number


def read_whole(value: object) -> int:
    """A whole number from 1 up."""
    if isinstance(value, bool) or not isinstance(value, int) or value < 1:
        raise ValueError("is no whole number from 1 up")
    return value
