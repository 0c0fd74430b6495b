"""Units of SenML: what a value is in another unit of the same quantity.

Source: RFC 8428, 12.1 (primary units) and RFC 8798, 3 (secondary units: value x scale + offset is the value
in the primary one). "%" is another name for "/" there, a ratio from 0 to 1 and no percentage.
"""

from fractions import Fraction

_Conversion = tuple[str, Fraction, Fraction]


def _secondary(primary: str, scale: str, offset: str = "0") -> _Conversion:
    return primary, Fraction(scale), Fraction(offset)


SECONDARY: dict[str, _Conversion] = {
    "%": _secondary("/", "1"),
    "Bspl": _secondary("dB", "10"),
    "ms": _secondary("s", "1/1000"),
    "min": _secondary("s", "60"),
    "h": _secondary("s", "3600"),
    "MHz": _secondary("Hz", "1000000"),
    "kW": _secondary("W", "1000"),
    "kVA": _secondary("VA", "1000"),
    "kvar": _secondary("var", "1000"),
    "Ah": _secondary("C", "3600"),
    "Wh": _secondary("J", "3600"),
    "kWh": _secondary("J", "3600000"),
    "varh": _secondary("vars", "3600"),
    "kvarh": _secondary("vars", "3600000"),
    "kVAh": _secondary("VAs", "3600000"),
    "Wh/km": _secondary("J/m", "3.6"),
    "KiB": _secondary("B", "1024"),
    "GB": _secondary("B", "1e9"),
    "Mbit/s": _secondary("bit/s", "1000000"),
    "B/s": _secondary("bit/s", "8"),
    "MB/s": _secondary("bit/s", "8000000"),
    "mV": _secondary("V", "1/1000"),
    "mA": _secondary("A", "1/1000"),
    "dBm": _secondary("dBW", "1", "-30"),
    "ug/m3": _secondary("kg/m3", "1e-9"),
    "mm/h": _secondary("m/s", "1/3600000"),
    "m/h": _secondary("m/s", "1/3600"),
    "ppm": _secondary("/", "1e-6"),
    "/100": _secondary("/", "1/100"),
    "/1000": _secondary("/", "1/1000"),
    "hPa": _secondary("Pa", "100"),
    "mm": _secondary("m", "1/1000"),
    "cm": _secondary("m", "1/100"),
    "km": _secondary("m", "1000"),
    "km/h": _secondary("m/s", "5/18"),
}


def convert(value: float, unit: str, wanted: str) -> float | None:
    """The value in the wanted unit, or None where the registries know no way from one to the other.

    A unit that no registry knows is only itself.
    """
    if unit == wanted:
        return value
    primary, scale, offset = SECONDARY.get(unit, _secondary(unit, "1"))
    wanted_primary, wanted_scale, wanted_offset = SECONDARY.get(wanted, _secondary(wanted, "1"))
    if primary != wanted_primary:
        return None
    factor = scale / wanted_scale
    # Multiplied and divided by whole numbers, so that 101325 Pa are 1013.25 hPa to the last bit.
    return value * factor.numerator / factor.denominator + float((offset - wanted_offset) / wanted_scale)
