"""Light: day through roof and skylights, lamps by the clock, and a darkened stage."""

from collections.abc import Mapping, Sequence

import numpy as np

from motelake.rehearsal.chance import FloatArray, draw, wander
from motelake.rehearsal.crowd import presence
from motelake.rehearsal.venue import Clock, Event, Zone
from motelake.rehearsal.weather import Weather


def invent_light(
    seed: int,
    clock: Clock,
    zones: Sequence[Zone],
    *,
    events: Sequence[Event],
    weather: Weather,
    day_share: Mapping[str, float],
    lamps_lx: Mapping[str, float],
) -> FloatArray:
    """Illuminance of every zone and minute in lx; day_share and lamps_lx are by level."""
    rng = draw(seed, "light")
    _, hour = clock.local()
    on = ((hour >= 8.2) & (hour < 21.8)).astype(np.float64)
    course = np.empty((len(zones), clock.minutes))
    for row, zone in enumerate(zones):
        lamps = lamps_lx[zone.level] * rng.uniform(0.8, 1.2) * on
        for event in events:
            if zone.zone in event.zones and event.kind == "concert":
                lamps = np.where(presence(event, clock, early_min=0, late_min=0) > 0.05, 0.06 * lamps, lamps)
        day = day_share[zone.level] * rng.uniform(0.7, 1.3) * weather.daylight_lx
        course[row] = (lamps + day) * np.exp(wander(rng, 1, clock.minutes, 0.8, 0.02)[0])
    return course


def radio_noise(seed: int, people: FloatArray) -> FloatArray:
    """Level of foreign radio in dBm: the more pockets, the more radios."""
    rows, steps = people.shape
    return -91 + 10 * np.log10(1 + 0.6 * people) + wander(draw(seed, "radio"), rows, steps, 0.7, 1.0)
