"""What happens to motes, gateways and zones, and whether anybody wrote it down."""

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from motelake.rehearsal.chance import draw
from motelake.rehearsal.crew import Fleet
from motelake.rehearsal.plan import Plan
from motelake.rehearsal.venue import Scene

CARRY_S = 240.0  # time to carry a mote from one zone to another


@dataclass(frozen=True)
class Incident:
    """One thing that went wrong or was changed, from_s to to_s in seconds of the campaign.

    kind: unplugged, removed, battery_flat, moved, found, shut_in, misregistered, planned_only, stuck, spiking,
    out_of_span (of a mote); restart (of a mote); gateway_dead, gateway_flush, garbage, redelivered (of a gateway);
    power_cut (of a zone). row points into the fleet's motes or gateways or the scene's zones. place is the zone
    row a mote is carried to. is_noted tells whether register or context know of it.
    """

    kind: str
    row: int
    from_s: float
    to_s: float
    is_noted: bool = False
    measure: int = -1
    place: int = -1
    value: float = 0.0


# Shares of the fleet, in the order in which a small fleet gets them.
SHARES: tuple[tuple[str, float], ...] = (
    ("unplugged", 0.02), ("stuck", 0.02), ("spiking", 0.02), ("moved_unnoted", 0.01), ("out_of_span", 0.02),
    ("moved", 0.01), ("shut_in", 0.01), ("removed", 0.01), ("battery_flat", 0.01), ("misregistered", 0.01),
    ("found", 0.005), ("unplugged_for_good", 0.01), ("planned_only", 0.005),
)  # fmt: skip


class Casting:
    """Chooses who meets which fate, with the scene's hours at hand."""

    def __init__(self, plan: Plan, scene: Scene, fleet: Fleet) -> None:
        self.plan, self.scene, self.fleet = plan, scene, fleet
        self.rng = draw(plan.seed, "incidents")
        self.end = scene.clock.seconds

    def daytime(self, latest: float = 0.8) -> float:
        """A second of the campaign in the local day, not in its last fifth."""
        day = int(self.rng.integers(self.plan.days))
        second = day * 86_400 + self.rng.uniform(9.3, 19.5) * 3600
        return float(round(min(second, latest * self.end)))

    def elsewhere(self, zone_row: int, is_other_level: bool = True) -> int:
        """Another zone, on another level where there is one."""
        zones = self.scene.zones
        far = [i for i, zone in enumerate(zones) if zone.level != zones[zone_row].level]
        other = [i for i in range(len(zones)) if i != zone_row]
        choice = (far if is_other_level and far else other) or [zone_row]
        return int(choice[int(self.rng.integers(len(choice)))])

    def measure_of(self, row: int, fits: Callable[[int], bool]) -> int:
        """A measure of a mote's kit for which a fault makes sense, or -1."""
        names = [measure.measure for measure in self.scene.measures]
        rows = [names.index(name) for name in self.fleet.motes[row].kit]
        fitting = [measure for measure in rows if fits(measure)]
        return fitting[int(self.rng.integers(len(fitting)))] if fitting else -1

    def cast(self, kind: str, row: int) -> list[Incident]:
        """The incidents that one fate brings to one mote."""
        rng, end = self.rng, self.end
        starts = self.daytime()
        here = self.fleet.motes[row].zone_row
        measures = self.scene.measures
        base = Incident(kind, row, starts, end)
        match kind:
            case "unplugged":
                return [replace(base, to_s=min(end, starts + float(rng.integers(1500, 9000))))]
            case "unplugged_for_good":
                return [replace(base, kind="unplugged")]
            case "removed":
                return [replace(base, is_noted=True)]
            case "battery_flat":
                return [replace(base, from_s=float(round(end * rng.uniform(0.7, 0.9))))]
            case "moved" | "moved_unnoted":
                return [replace(base, kind="moved", is_noted=kind == "moved", place=self.elsewhere(here))]
            case "found":
                later = min(end, starts + float(rng.integers(7200, 18_000)))
                return [replace(base, place=self.elsewhere(here), to_s=later, is_noted=True)]
            case "shut_in":
                return [replace(base, to_s=min(end, starts + float(rng.integers(10_000, 40_000))))]
            case "misregistered":
                return [replace(base, from_s=self.fleet.motes[row].installed_s, place=self.elsewhere(here))]
            case "planned_only":
                return [replace(base, is_noted=True, place=self.elsewhere(here))]
            case "stuck":
                measure = self.measure_of(row, lambda m: measures[m].flat_after_min is not None)
                flat = (measures[measure].flat_after_min or 0) * 60
                return [
                    replace(base, to_s=min(end, starts + flat * rng.uniform(2.5, 5)), measure=measure)
                ] * (measure >= 0)
            case "spiking":
                measure = self.measure_of(row, self.can_spike)
                return [replace(base, measure=measure, value=0.01)] * (measure >= 0)
            case _:
                measure = self.measure_of(row, lambda m: measures[m].offset_spread > 0)
                span = (measures[measure].span_low, measures[measure].span_high)
                beyond = span[0] - 0.5 * abs(span[0]) - 20 if rng.random() < 0.5 else span[1] * 1.5
                stops = min(end, starts + float(rng.integers(1200, 7200)))
                return [replace(base, to_s=stops, measure=measure, value=float(round(beyond)))] * (
                    measure >= 0
                )

    def can_spike(self, measure: int) -> bool:
        """Whether a spike of three steps still looks like something the sensor could report."""
        what = self.scene.measures[measure]
        return what.max_step is not None and 9 * what.max_step < what.span_high - what.span_low

    def cast_all(self) -> list[Incident]:
        """Every mote's fate; at most two motes in five have one."""
        amount = self.plan.faults.mote_incidents
        if amount <= 0:
            return []
        count = self.plan.motes
        order = list(self.rng.permutation(count))[: max(1, 2 * count // 5)]
        found: list[Incident] = []
        for kind, share in SHARES:
            for _ in range(max(1, round(share * amount * count))):
                if not order:
                    return found
                found += self.cast(kind, int(order.pop()))
        return found
