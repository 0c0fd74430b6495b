"""Sound that adds as energy: ventilation, people, and the stage heard through the house."""

from collections.abc import Sequence

import numpy as np

from motelake.rehearsal.chance import FloatArray, draw, wander
from motelake.rehearsal.crowd import presence
from motelake.rehearsal.venue import Clock, Event, Zone

SOURCE_DB = {
    "concert": 90.0,
    "talk": 68.0,
    "announcement": 70.0,
    "tour": 60.0,
    "workshop": 66.0,
    "exchange": 58.0,
}
SAME_LEVEL_DB, NEXT_LEVEL_DB, FAR_LEVEL_DB = 14.0, 26.0, 40.0  # what walls and floors take away


def loss_between(source: Zone, heard_in: Zone, storeys: Sequence[str]) -> float:
    """What a sound loses on its way from one zone to another, in dB."""
    if source.zone == heard_in.zone:
        return 0.0
    floors = abs(storeys.index(source.level) - storeys.index(heard_in.level))
    return (SAME_LEVEL_DB, NEXT_LEVEL_DB)[floors] if floors < 2 else FAR_LEVEL_DB


def invent_sound(
    seed: int,
    clock: Clock,
    zones: Sequence[Zone],
    *,
    storeys: Sequence[str],
    events: Sequence[Event],
    people: FloatArray,
) -> FloatArray:
    """Sound level of every zone and minute in dB, shape (zones, minutes)."""
    rng = draw(seed, "sound")
    rows, steps = people.shape
    _, hour = clock.local()
    ventilation = (
        np.where((hour >= 8) & (hour < 22), 41.0, 33.0)[None, :]
        + np.array([4.0 if zone.level == storeys[0] else 0.0 for zone in zones])[:, None]
    )
    area = np.array([zone.area_m2 for zone in zones])[:, None]
    talking = 51 + 10 * np.log10(np.maximum(people * 100 / area, 1e-3)) + wander(rng, rows, steps, 0.8, 1.2)
    energy = 10 ** (ventilation / 10) + 10 ** (talking / 10)
    for event in events:
        loud = SOURCE_DB.get(event.kind)
        if loud is None:
            continue
        playing = presence(event, clock, early_min=0, late_min=0) > 0.05
        course = loud + wander(draw(seed, "sound", event.event), 1, steps, 0.85, 2.0)[0]
        for row, zone in enumerate(zones):
            loss = min(
                (loss_between(at, zone, storeys) for at in zones if at.zone in event.zones), default=0.0
            )
            energy[row] += np.where(playing, 10 ** ((course - loss) / 10), 0)
    return np.asarray(10 * np.log10(energy), dtype=np.float64)
