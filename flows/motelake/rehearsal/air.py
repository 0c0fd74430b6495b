"""Air that follows the crowd: what people breathe out and give off, mixed and carried away."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from motelake.rehearsal.chance import FloatArray, draw, follow, wander
from motelake.rehearsal.venue import Clock, Zone
from motelake.rehearsal.weather import Weather, saturation_hpa

HPA_PER_M = 0.12  # standard atmosphere near sea level (ICAO/ISO 2533): 0.1201 hPa a metre at 0 m
GAS_MIN, HEAT_MIN, MOISTURE_MIN, OPEN_AIR_MIN = 18.0, 35.0, 22.0, 2.0
OUTDOOR_PPM = 420.0


@dataclass(frozen=True)
class Air:
    """Gas (ppm), temperature (Cel), relative humidity (%), pressure (hPa), each of shape (zones, minutes)."""

    gas: FloatArray
    temperature: FloatArray
    humidity: FloatArray
    pressure: FloatArray


def storey_pressure(weather: Weather, zones: Sequence[Zone], heights_m: Mapping[str, float]) -> FloatArray:
    """Air pressure of each zone and minute: the weather's, less 0.12 hPa for each metre above the lowest."""
    drop = np.array([HPA_PER_M * heights_m[zone.level] for zone in zones])[:, None]
    return np.asarray(weather.pressure_hpa[None, :] - drop, dtype=np.float64)


def gate_openings(seed: int, clock: Clock, zones: Sequence[Zone]) -> FloatArray:
    """Share of outdoor air that the gate lets into each zone: entrances only, a few minutes at a time."""
    rng = draw(seed, "gate")
    wide = np.zeros((len(zones), clock.minutes))
    _, hour = clock.local()
    for row, zone in enumerate(zones):
        if zone.kind != "entrance":
            continue
        for minute in np.flatnonzero((hour > 8) & (hour < 22) & (rng.random(clock.minutes) < 0.015)):
            wide[row, minute : minute + int(rng.integers(2, 7))] = rng.uniform(0.2, 0.5)
    return wide


def invent_air(
    seed: int,
    clock: Clock,
    zones: Sequence[Zone],
    *,
    heights_m: Mapping[str, float],
    people: FloatArray,
    weather: Weather,
    open_air: Sequence[str],
) -> Air:
    """The air of every zone and minute; zones on a level named in open_air mix with the weather at once."""
    rng = draw(seed, "air")
    rows, steps = people.shape
    outside = np.array([zone.level in open_air for zone in zones])
    density = people * np.array([150 / zone.area_m2 for zone in zones])[:, None]

    gas_min = np.where(outside, OPEN_AIR_MIN, GAS_MIN)
    gas = OUTDOOR_PPM + follow(0.75 * density * gas_min[:, None], gas_min) + wander(rng, rows, steps, 0.98, 6)

    heat_min = np.where(outside, OPEN_AIR_MIN, HEAT_MIN)
    warmth = np.where(outside, 0.004, 0.028)[:, None]
    storey = np.array([0.13 * heights_m[zone.level] - 0.6 for zone in zones])[:, None]
    slow = follow(weather.temperature_c[None, :], 120)
    indoor = 18.6 + 0.3 * (slow - 16) + storey
    sunny = weather.temperature_c + 3.5 * follow(weather.daylight_lx[None, :] / 46_000, 12)
    base = np.where(outside[:, None], sunny, indoor)
    temperature = base + follow(warmth * density, heat_min) + wander(rng, rows, steps, 0.985, 0.06)
    wide = gate_openings(seed, clock, zones)
    temperature = temperature + follow(wide * (weather.temperature_c - temperature), 3.0)

    moisture_min = np.where(outside, OPEN_AIR_MIN, MOISTURE_MIN)
    breath = follow(np.where(outside, 0.002, 0.03)[:, None] * density, moisture_min)
    vapour = follow(np.broadcast_to(weather.vapour_hpa, (rows, steps)), np.where(outside, 2.0, 60.0))
    humidity = 100 * (vapour + breath) / saturation_hpa(temperature) + wander(rng, rows, steps, 0.98, 0.3)
    return Air(gas, temperature, np.clip(humidity, 5, 99), storey_pressure(weather, zones, heights_m))
