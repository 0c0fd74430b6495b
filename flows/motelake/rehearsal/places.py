"""Where each mote truly is: zones, cupboards and the way between."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from motelake.rehearsal.chance import FloatArray, IntArray, follow
from motelake.rehearsal.crew import Fleet
from motelake.rehearsal.incidents import CARRY_S, Incident
from motelake.rehearsal.venue import Scene

SHUT_S = 30.0  # time to close a door
SPACING = 1e9  # seconds between two motes' stretches of the one sorted key


@dataclass(frozen=True)
class Place:
    """A mote in a zone from a second on; shut_in numbers cupboards (-1: none), carry_s is the way there."""

    mote: int
    from_s: float
    zone_row: int
    shut_in: int
    carry_s: float


@dataclass(frozen=True)
class Whereabouts:
    """All places by mote and time; world_row points into the world with cupboards appended to the zones."""

    places: tuple[Place, ...]
    key: FloatArray
    world_row: IntArray
    mote: IntArray
    from_s: FloatArray
    carry_s: FloatArray

    def at(self, mote: IntArray, second: FloatArray) -> tuple[IntArray, IntArray, FloatArray]:
        """World row now, world row before, and the share (0 to 1) of the way between them."""
        now = np.searchsorted(self.key, mote * SPACING + second, side="right") - 1
        before = np.where((now > 0) & (self.mote[now - 1] == mote), now - 1, now)
        arrived = np.clip((second - self.from_s[now]) / self.carry_s[now], 0, 1)
        return self.world_row[now], self.world_row[before], arrived


def trace(scene: Scene, fleet: Fleet, incidents: Sequence[Incident]) -> Whereabouts:
    """The true places of every mote."""
    places: list[Place] = []
    cupboards = 0
    for row, mote in enumerate(fleet.motes):
        own = sorted((item for item in incidents if item.row == row), key=lambda item: item.from_s)
        here = mote.zone_row
        for incident in own:
            if incident.kind == "misregistered":
                here = incident.place
        places.append(Place(row, -SPACING / 2, here, -1, 1.0))
        for incident in own:
            if incident.kind in ("moved", "found"):
                here = incident.place
                places.append(Place(row, incident.from_s, here, -1, CARRY_S))
            elif incident.kind == "shut_in":
                places.append(Place(row, incident.from_s, here, cupboards, SHUT_S))
                if incident.to_s < scene.clock.seconds:
                    places.append(Place(row, incident.to_s, here, -1, SHUT_S))
                cupboards += 1
    mote_rows = np.array([place.mote for place in places], dtype=np.int64)
    from_s = np.array([place.from_s for place in places])
    world_row = [
        place.zone_row if place.shut_in < 0 else len(scene.zones) + place.shut_in for place in places
    ]
    return Whereabouts(
        tuple(places),
        mote_rows * SPACING + from_s,
        np.array(world_row, dtype=np.int64),
        mote_rows,
        from_s,
        np.array([place.carry_s for place in places]),
    )


def with_cupboards(scene: Scene, whereabouts: Whereabouts) -> Mapping[str, FloatArray]:
    """The scene's world with one more row for each cupboard: dark, dull, and slow to follow."""
    inside = sorted({(place.shut_in, place.zone_row) for place in whereabouts.places if place.shut_in >= 0})
    if not inside:
        return scene.world
    rows = np.array([zone_row for _, zone_row in inside])
    kinds = {measure.measure: measure for measure in scene.measures}
    extended = {}
    for name, course in scene.world.items():
        here = course[rows]
        role = kinds[name].role
        if role == "light":
            shut = here * 0.0
        elif role == "sound":
            shut = 10 * np.log10(10 ** ((here - 24) / 10) + 10**3.1)
        elif role == "crowd":
            shut = here * 0.04
        elif role == "air_pressure" or kinds[name].kind == "decibel":
            shut = here
        else:
            shut = follow(here, 90.0)
        extended[name] = np.concatenate([course, shut])
    return extended
