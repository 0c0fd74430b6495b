"""Numbers, times and names as the page writes them."""

import re
import unicodedata
from datetime import datetime, timedelta
from math import floor, isfinite, log10
from zoneinfo import ZoneInfo

# SenML's codes as people write them; a unit that is not here stands as it is.
UNITS = {
    "Cel": "°C", "%RH": "% RH", "count": "per minute", "/": "", "lx": "lx", "m3/m3": "m³/m³", "Pa": "Pa",
    "m/s2": "m/s²", "ug/m3": "µg/m³", "W/m2": "W/m²",
}  # fmt: skip
_UNITS_OF_DIFFERENCE = {"dBm": "dB", "%": "percentage points"}

_ISOLATE, _END_OF_ISOLATE = "\u2068", "\u2069"
_NAME_LENGTH = 60
_INSTANT = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d(?::\d\d)?Z")


def number(value: float | None, digits: int = 2) -> str:
    """A number to so many significant digits, with a true minus sign; digits before the point are kept."""
    if value is None or not isfinite(value):
        return "unknown"
    if value == 0:
        return "0"
    decimals = max(0, digits - 1 - floor(log10(abs(value))))
    text = f"{abs(value):,.{min(decimals, 6)}f}"
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    return f"−{text}" if value < 0 and text != "0" else text


def estimate(value: float | None, digits: int = 2) -> str:
    """A number that is no surer than so many significant digits, those before the point among them."""
    if not value or not isfinite(value):
        return number(value)
    return number(round(value, digits - 1 - floor(log10(abs(value)))), digits)


def signed(value: float | None, digits: int = 2) -> str:
    """A difference as an estimate, with its sign."""
    text = estimate(value, digits)
    return f"+{text}" if value is not None and value > 0 else text


def unit(code: str | None) -> str:
    """A unit as people write it."""
    return UNITS.get(code or "", code or "")


def with_unit(text: str, code: str | None) -> str:
    """A number and its unit, kept on one line."""
    shown = unit(code)
    return f"{text}\u00a0{shown}".replace(" ", "\u00a0") if shown else text


def difference(value: float | None, code: str | None) -> str:
    """A difference of two values of a unit."""
    return with_unit(signed(value), unit_of_difference(code))


def unit_of_difference(code: str | None) -> str:
    """The unit of a difference as people write it: +5 % of a share would read as a twentieth of it."""
    return unit(_UNITS_OF_DIFFERENCE.get(code or "", code))


def interval(low: float | None, high: float | None) -> str:
    """The two ends of a 95 % interval of a difference, neither told closer than to a tenth of its width.

    An end so near to nought that its figures would be nought is told by its side, for that decides.
    """
    decimals = None
    if low is not None and high is not None and isfinite(high - low) and high > low:
        decimals = 1 - floor(log10(high - low))
    return f"95\u00a0% interval {_end(low, decimals)} to {_end(high, decimals)}"


def _end(value: float | None, decimals: int | None) -> str:
    if value is None or decimals is None:
        return signed(value)
    rounded = round(value, decimals)
    if rounded == 0 and value != 0:
        return "just over 0" if value > 0 else "just under 0"
    return signed(rounded)


def independent_minutes(count: float | None) -> str:
    """How many independent minutes the minutes of an answer are worth."""
    return "unknown" if count is None else plural(max(1, round(count)), "independent minute")


def share(value: float | None) -> str:
    """A share as per cent."""
    if value is None:
        return "unknown"
    if 0.995 <= value < 1:
        return "over 99\u00a0%"
    if 0 < value < 0.005:
        return "under 1\u00a0%"
    return f"{value * 100:.0f}\u00a0%"


def p_value(value: float | None) -> str:
    """A probability as it is told in a sentence."""
    if value is None:
        return "p unknown"
    return "p\u00a0<\u00a00.001" if value < 0.001 else f"p\u00a0=\u00a0{number(value, 2)}"


def clock(at: datetime, zone: ZoneInfo) -> str:
    """Hours and minutes on the campaign's clocks."""
    return f"{at.astimezone(zone):%H:%M}"


def day(at: datetime, zone: ZoneInfo) -> str:
    """The campaign's day, short."""
    local = at.astimezone(zone)
    return f"{local:%a} {local.day} {local:%b}"


def moment(at: datetime, zone: ZoneInfo) -> str:
    """Day and time on the campaign's clocks."""
    return f"{day(at, zone)}, {clock(at, zone)}"


def on_clocks(text: str, zone: ZoneInfo) -> str:
    """A text of an answer with its instants on the campaign's clocks."""
    return _INSTANT.sub(lambda found: moment(datetime.fromisoformat(found[0]), zone), text)


def length(time: timedelta) -> str:
    """A length of time in its two largest units."""
    minutes = round(time.total_seconds() / 60)
    days, hours = minutes // 1440, minutes // 60 % 24
    if days:
        return f"{days} d {hours} h" if hours else f"{days} d"
    if hours:
        return f"{hours} h {minutes % 60} min" if minutes % 60 else f"{hours} h"
    return f"{minutes} min"


def span(start: datetime, end: datetime, zone: ZoneInfo) -> str:
    """A stretch of days in words; a day at whose midnight it ends is none of them."""
    first, last = start.astimezone(zone), (end - timedelta(microseconds=1)).astimezone(zone)
    if first.date() == last.date():
        return f"{first.day} {first:%B %Y}"
    if (first.year, first.month) == (last.year, last.month):
        return f"{first.day} to {last.day} {last:%B %Y}"
    return f"{first.day} {first:%B %Y} to {last.day} {last:%B %Y}"


def plural(count: int, one: str, many: str | None = None) -> str:
    """A count and its noun; nought is "no"."""
    return f"{f'{count:,}' if count else 'no'} {one if count == 1 else many or one + 's'}"


def listed(words: list[str]) -> str:
    """Words as an enumeration."""
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}" if words else ""


def name(text: str | None, length: int = _NAME_LENGTH) -> str:
    """A name from the register or the programme, made harmless beside other text.

    Control characters become spaces, a long name is cut, and one that changes the direction of writing is
    kept from turning its neighbours round.
    """
    shown = "".join(" " if unicodedata.category(sign) == "Cc" else sign for sign in text or "")
    shown = " ".join(shown.split())
    if len(shown) > length:
        shown = shown[: length - 1].rstrip() + "…"
    turns = any(
        unicodedata.category(sign) == "Cf" or unicodedata.bidirectional(sign) in ("R", "AL") for sign in shown
    )
    return f"{_ISOLATE}{shown}{_END_OF_ISOLATE}" if turns else shown


def capital(text: str) -> str:
    """The text as the beginning of a sentence."""
    return text[:1].upper() + text[1:]


def inner(text: str) -> str:
    """A title inside a sentence: its first letter small, unless it belongs to a short form such as CO2."""
    return text[:1].lower() + text[1:] if text[1:2].islower() else text
