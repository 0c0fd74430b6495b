"""The weather outside: daily cycles and drifts that are nobody's doing."""

from dataclasses import dataclass

import numpy as np

from motelake.rehearsal.chance import FloatArray, draw, wander
from motelake.rehearsal.venue import Clock

MEAN_C = 16.0


@dataclass(frozen=True)
class Weather:
    """Course of the weather on the minute grid, each of shape (minutes,)."""

    temperature_c: FloatArray
    vapour_hpa: FloatArray
    pressure_hpa: FloatArray
    daylight_lx: FloatArray


def saturation_hpa(temperature_c: FloatArray) -> FloatArray:
    """Saturation vapour pressure over water in hPa, 6.112 exp(17.62 t / (243.12 + t)); WMO-No. 8, 4.B."""
    return np.asarray(6.112 * np.exp(17.62 * temperature_c / (243.12 + temperature_c)), dtype=np.float64)


def invent_weather(seed: int, clock: Clock) -> Weather:
    """May weather of a seaside town: cool nights, a passing front in the pressure, broken clouds."""
    rng = draw(seed, "weather")
    day, hour = clock.local()
    steps = clock.minutes
    days = int(day[-1]) + 1
    warm = rng.normal(0, 1.2, days + 1)[day]
    temperature = MEAN_C + warm.mean() + 5.0 * np.sin(2 * np.pi * (hour - 9.3) / 24)
    temperature = temperature + wander(rng, 1, steps, 0.995, 0.5)[0]
    vapour = np.minimum(10.2 + wander(rng, 1, steps, 0.999, 0.8)[0], 0.96 * saturation_hpa(temperature))
    elapsed_h = np.arange(steps) / 60
    front = 3.0 * np.sin(2 * np.pi * (elapsed_h / rng.uniform(60, 90) + rng.uniform()))
    tide = 0.6 * np.cos(2 * np.pi * (hour - 10) / 12)
    pressure = 1016.0 + front + tide + wander(rng, 1, steps, 0.999, 0.4)[0]
    sun = np.clip(np.sin(np.pi * (hour - 6.4) / 14.2), 0, None) * ((hour > 6.4) & (hour < 20.6))
    clouds = 1 / (1 + np.exp(-2.2 * wander(rng, 1, steps, 0.97, 1.0)[0]))
    daylight = 46_000 * sun**1.3 * (0.25 + 0.75 * clouds) + 4 * (sun > 0)
    return Weather(temperature, vapour, pressure, daylight)
