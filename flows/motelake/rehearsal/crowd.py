"""The crowd: drawn by the agenda, walking from the entrance along the levels."""

from collections.abc import Mapping, Sequence

import numpy as np

from motelake.rehearsal.chance import FloatArray, draw, follow, wander
from motelake.rehearsal.venue import Clock, Event, Zone

PULL = {"concert": 14.0, "exchange": 7.0, "talk": 6.0, "workshop": 2.5, "tour": 4.0}
WEIGHT = {
    "entrance": 1.1, "stage": 0.6, "food": 1.4, "hall": 0.8, "talk": 0.5,
    "exchange": 1.0, "workshop": 0.6, "walk": 0.8, "garden": 0.8,
}  # fmt: skip
SEATED = ("concert", "talk", "workshop")
WALK_MIN = 2.5  # minutes a person needs from one level to the next
SETTLE_MIN = 4.0  # time constant at which people follow what draws them


def presence(event: Event, clock: Clock, early_min: float = 6.0, late_min: float = 4.0) -> FloatArray:
    """How much of an event's pull is felt in each minute, 0 to 1: people come early and leave at once."""
    minute = np.arange(clock.minutes, dtype=np.float64)
    starts, ends = clock.second_of(event.starts_at) / 60, clock.second_of(event.ends_at) / 60
    rising = np.clip((minute - starts + early_min) / (early_min + 4), 0, 1)
    falling = np.clip((ends + late_min - minute) / (late_min + 1), 0, 1)
    return np.minimum(rising, falling)


def visitors(seed: int, clock: Clock, most: float) -> FloatArray:
    """People in the venue in each minute: three waves between opening and closing."""
    day, hour = clock.local()
    rng = draw(seed, "visitors")
    scale = rng.uniform(0.85, 1.1, int(day[-1]) + 1)[day]
    waves = (
        0.75 * np.exp(-(((hour - 11.3) / 1.6) ** 2))
        + 0.85 * np.exp(-(((hour - 15.2) / 2.0) ** 2))
        + 0.95 * np.exp(-(((hour - 18.9) / 1.5) ** 2))
    )
    doors = np.clip((hour - 9) * 3, 0, 1) * np.clip((21.15 - hour) * 4, 0, 1)
    return np.asarray(most * scale * waves * doors, dtype=np.float64)


def invent_crowd(
    seed: int,
    clock: Clock,
    zones: Sequence[Zone],
    *,
    events: Sequence[Event],
    hops: Mapping[str, int],
    most: float,
) -> FloatArray:
    """People in each zone and minute, shape (zones, minutes); hops counts stairs from the entrance."""
    steps = clock.minutes
    _, hour = clock.local()
    weight = np.array([WEIGHT.get(zone.kind, 0.7) for zone in zones])[:, None] * np.ones(steps)
    midday = 0.4 + 0.9 * np.exp(-(((hour - 14.5) / 3.5) ** 2))
    for row, zone in enumerate(zones):
        if zone.kind == "garden":
            weight[row] *= midday
        for event in events:
            if zone.zone in event.zones:
                pull = PULL.get(event.kind, 0.0) / len(event.zones)
                weight[row] += pull * np.sqrt(zone.area_m2 / 150) * presence(event, clock)
    share = weight / weight.sum(axis=0)
    mood = np.exp(wander(draw(seed, "crowd"), len(zones), steps, 0.97, 0.12))
    wanted = visitors(seed, clock, most) * share * mood
    for row, zone in enumerate(zones):
        away = round(WALK_MIN * hops[zone.level])
        if away:
            wanted[row, away:] = wanted[row, :-away].copy()
    people = follow(wanted, SETTLE_MIN)
    crew = np.where((hour > 7.2) & (hour < 9.2), 1.6, 0) + np.where((hour > 20.9) & (hour < 22.6), 1.2, 0)
    staff = crew * np.exp(wander(draw(seed, "crew"), len(zones), steps, 0.9, 0.5))
    return np.asarray(np.maximum(people, 0) + staff, dtype=np.float64)


def footsteps(people: FloatArray, zones: Sequence[Zone], events: Sequence[Event], clock: Clock) -> FloatArray:
    """Footsteps a minute that one mote of each zone counts: few while people sit, many as they come."""
    seated = np.zeros_like(people)
    for row, zone in enumerate(zones):
        for event in events:
            if zone.zone in event.zones and event.kind in SEATED:
                seated[row] = np.maximum(seated[row], presence(event, clock, early_min=0, late_min=0))
    moving = np.abs(np.diff(people, axis=1, prepend=people[:, :1]))
    nearness = np.array([np.sqrt(150 / zone.area_m2) for zone in zones])[:, None]
    return np.asarray(
        nearness * (0.45 * people * (1 - 0.75 * seated) + 1.5 * moving) + 0.002, dtype=np.float64
    )
