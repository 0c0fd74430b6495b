"""What happens to gateways, to the mains of a zone, and to motes that simply start again."""

from collections.abc import Sequence

import numpy as np

from motelake.rehearsal.chance import draw
from motelake.rehearsal.crew import Fleet
from motelake.rehearsal.incidents import Incident
from motelake.rehearsal.plan import Plan
from motelake.rehearsal.venue import Scene

APART_S = 5400.0  # two troubles of one gateway stay this far apart, so that each can be told from the other


def number_of(plan: Plan, networks: int, wanted: int | None) -> int:
    """How many of a fault a lake of this size sees where the plan does not say: one for ten network-days."""
    return wanted if wanted is not None else max(1, round(plan.days * networks / 20))


def place_outages(plan: Plan, scene: Scene, fleet: Fleet) -> list[Incident]:
    """Dead gateways, gateways that store and flush, raw objects of garbage, and raw objects sent again."""
    rng = draw(plan.seed, "outages")
    faults, networks = plan.faults, len(fleet.gateways)
    found: list[Incident] = []

    def add(kind: str, length_s: float, grid_s: float) -> None:
        for _ in range(200):
            row = int(rng.integers(networks))
            day = int(rng.integers(plan.days))
            starts = day * 86_400 + rng.uniform(9.5, 20) * 3600
            starts = float(starts // grid_s * grid_s)
            is_free = all(
                other.row != row
                or starts > other.to_s + APART_S
                or starts + length_s < other.from_s - APART_S
                for other in found
            )
            if is_free and starts + length_s < scene.clock.seconds - APART_S:
                found.append(Incident(kind, row, starts, starts + length_s))
                return

    for _ in range(number_of(plan, networks, faults.gateway_flushes)):
        add("gateway_flush", faults.flush_min * 60, 1)
    for _ in range(number_of(plan, networks, faults.gateway_deaths)):
        add("gateway_dead", float(rng.integers(1500, 5400)), 1)
    delivery_s = 60.0 * plan.delivery_min
    for _ in range(faults.garbage_objects):
        add("garbage", delivery_s, delivery_s)
    for _ in range(faults.redelivered_objects):
        add("redelivered", delivery_s, delivery_s)
    return found


def place_power_cuts(plan: Plan, scene: Scene, fleet: Fleet) -> list[Incident]:
    """Zones that lose their mains for a while; the crew notes it, because the lights go out too."""
    rng = draw(plan.seed, "power cuts")
    wanted = plan.faults.power_cuts
    number = wanted if wanted is not None else round(plan.days * len(scene.zones) / 28)
    lit = [
        row
        for row in range(len(scene.zones))
        if any(mote.power == "mains" and mote.zone_row == row for mote in fleet.motes)
    ]
    found = []
    for _ in range(number if lit else 0):
        row = lit[int(rng.integers(len(lit)))]
        starts = float(int(rng.integers(plan.days)) * 86_400 + rng.integers(10 * 3600, 20 * 3600))
        found.append(
            Incident("power_cut", row, starts, starts + float(rng.integers(480, 1500)), is_noted=True)
        )
    return found


def place_restarts(plan: Plan, scene: Scene, fleet: Fleet, outages: Sequence[Incident]) -> list[Incident]:
    """Motes that lose power for a moment; the hardest to tell does so while its gateway stores."""
    rng = draw(plan.seed, "restarts")
    number = round(plan.faults.restarts_per_day * plan.days)
    rows = rng.integers(len(fleet.motes), size=number)
    seconds = np.floor(rng.uniform(0, scene.clock.seconds, number))
    for position, flush in enumerate([item for item in outages if item.kind == "gateway_flush"][:number]):
        members = [
            row for row, mote in enumerate(fleet.motes) if mote.network == flush.row and mote.is_registered
        ]
        rows[position] = members[int(rng.integers(len(members)))]
        seconds[position] = np.floor(rng.uniform(flush.from_s + 300, flush.to_s - 300))
    return [
        Incident("restart", int(row), float(second), float(second) + float(rng.integers(4, 45)))
        for row, second in zip(rows, seconds, strict=True)
        if second > fleet.motes[int(row)].installed_s
    ]
