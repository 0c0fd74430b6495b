"""Units by the registries of RFC 8428 (12.1) and RFC 8798 (3)."""

import pytest

from motelake.formats.units import SECONDARY, convert


@pytest.mark.parametrize(
    ("value", "unit", "wanted", "expected"),
    [
        (10.0, "dBm", "dBW", -20.0),  # RFC 8798, 3: the example printed there
        (100.0, "ms", "s", 0.1),  # RFC 8798, 3: the example printed there
        (1013.25, "hPa", "Pa", 101325.0),
        (101325.0, "Pa", "hPa", 1013.25),
        (-20.0, "dBW", "dBm", 10.0),
        (0.000412, "/", "ppm", 412.0),
        (41.2, "/100", "/", 0.412),
        (0.5, "%", "/", 0.5),  # RFC 8428, 12.1: "%" is "/" by another name, no percentage
        (90.0, "km/h", "m/s", 25.0),
        (6.0, "Bspl", "dB", 60.0),
        (3.0, "mV", "mV", 3.0),
        (1500.0, "mA", "A", 1.5),
        (12.0, "person", "person", 12.0),
    ],
)
def test_a_value_is_the_same_quantity_in_another_unit(
    value: float, unit: str, wanted: str, expected: float
) -> None:
    assert convert(value, unit, wanted) == pytest.approx(expected, rel=1e-15)


@pytest.mark.parametrize(
    ("unit", "wanted"), [("Cel", "hPa"), ("%", "%RH"), ("dB", "dBm"), ("cel", "Cel"), ("", "s")]
)
def test_units_of_different_quantities_do_not_meet(unit: str, wanted: str) -> None:
    assert convert(1.0, unit, wanted) is None


@pytest.mark.parametrize("unit", sorted(SECONDARY))
def test_there_and_back_is_the_same_value(unit: str) -> None:
    primary = SECONDARY[unit][0]
    there = convert(17.25, unit, primary)
    assert there is not None
    assert convert(there, primary, unit) == pytest.approx(17.25, rel=1e-12)
