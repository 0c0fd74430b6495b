"""Values of an answer as programs read them and as people do."""

import json
from base64 import b64encode
from collections.abc import Mapping
from datetime import date, datetime, time, timedelta
from decimal import Decimal
from math import floor, isfinite, log10
from typing import Any
from zoneinfo import ZoneInfo

from motelake.core.instants import format_instant

# Below are years and sequence numbers, above identities: neither is read in thousands.
FROM_GROUPED = 10_000
FROM_IDENTITY = 10**15


def plain(value: Any) -> Any:
    """A value as JSON holds it: times RFC 3339 in UTC, bytes in base64, what is no finite number null."""
    if isinstance(value, Mapping):
        return {str(key): plain(one) for key, one in value.items()}
    if isinstance(value, list | tuple):
        return [plain(one) for one in value]
    if value is None or isinstance(value, bool | int | str):
        return value
    if isinstance(value, float):
        return value if isfinite(value) else None
    return _plain_scalar(value)


def _plain_scalar(value: Any) -> Any:
    match value:
        case Decimal():
            return int(value) if value == value.to_integral_value() else float(value)
        case datetime():
            return format_instant(value) if value.tzinfo else value.isoformat()
        case date() | time():
            return value.isoformat()
        case timedelta():
            return value.total_seconds()
        case bytes():
            return b64encode(value).decode()
    return str(value)


def comma_cell(value: Any) -> str:
    """A value as a cell of CSV: empty where there is none, lists and structures as JSON."""
    shown = plain(value)
    if shown is None:
        return ""
    return shown if isinstance(shown, str) else json.dumps(shown, ensure_ascii=False)


def people_cell(value: Any, zone: ZoneInfo, has_seconds: bool = True) -> str:
    """A value as people read it: numbers to four digits, times on the clocks of the zone."""
    match value:
        case None:
            return ""
        case bool():
            return "yes" if value else "no"
        case int():
            return f"{value:,}" if FROM_GROUPED <= abs(value) < FROM_IDENTITY else str(value)
        case float() | Decimal():
            return round_number(float(value))
        case datetime():
            local = value.astimezone(zone) if value.tzinfo else value
            return f"{local:%Y-%m-%d %H:%M:%S}" if has_seconds else f"{local:%Y-%m-%d %H:%M}"
    return comma_cell(value)


def round_number(value: float) -> str:
    """A number to four significant digits, never cutting digits before the point."""
    if not isfinite(value):
        return str(value)
    if value == 0:
        return "0"
    if abs(value) < FROM_GROUPED:
        value = float(f"{value:.4g}")
    size = floor(log10(abs(value)))
    if size < -4:
        return f"{value:.2e}"
    decimals = max(0, 3 - size)
    text = f"{value:,.{decimals}f}" if abs(value) >= FROM_GROUPED else f"{value:.{decimals}f}"
    return text.rstrip("0").rstrip(".") if decimals else text
