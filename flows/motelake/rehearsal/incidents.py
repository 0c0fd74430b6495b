"""What happens to motes, gateways and zones, and whether anybody wrote it down."""

from collections.abc import Callable
from dataclasses import dataclass, replace

from motelake.rehearsal.chance import draw
from motelake.rehearsal.crew import Fleet
from motelake.rehearsal.plan import Plan
from motelake.rehearsal.venue import Measure, Scene

SPIKE_SHARE = 0.02  # of a spiking sensor's readings
CARRY_S = 240.0  # time to carry a mote from one zone to another


@dataclass(frozen=True)
class Incident:
    """One thing that went wrong or was changed, from_s to to_s in seconds of the campaign.

    kind, of a mote: restart, unplugged, removed, battery_flat, moved, found, shut_in, misregistered,
    planned_only, stuck, spiking, out_of_span; of a gateway: gateway_dead, gateway_flush, garbage,
    redelivered; of a zone: power_cut. row points into the fleet's motes, its gateways or the scene's zones.
    place is the zone row a mote is carried to, value what a broken sensor says, or how often it spikes.
    is_noted tells whether the register or the context know of it.
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


SENSOR_FAULTS = ("stuck", "spiking", "out_of_span")


class Casting:
    """Chooses which mote meets which fate, with the scene's hours at hand."""

    def __init__(self, plan: Plan, scene: Scene, fleet: Fleet) -> None:
        self.plan, self.scene, self.fleet = plan, scene, fleet
        self.rng = draw(plan.seed, "incidents")
        self.end = scene.clock.seconds

    def daytime(self) -> float:
        """A second by day, early enough for the campaign to see what comes of it."""
        while True:
            second = int(self.rng.integers(self.plan.days)) * 86_400 + self.rng.uniform(9.3, 19.5) * 3600
            if second < 0.8 * self.end:
                return float(round(second))

    def until(self, starts: float, shortest_s: float, longest_s: float) -> float:
        """An end some time after a start, within the campaign."""
        return float(round(min(self.end, starts + self.rng.uniform(shortest_s, longest_s))))

    def elsewhere(self, zone_row: int) -> int:
        """Another zone, on another level where there is one."""
        zones = self.scene.zones
        far = [i for i, zone in enumerate(zones) if zone.level != zones[zone_row].level]
        choice = far or [i for i in range(len(zones)) if i != zone_row] or [zone_row]
        return int(choice[int(self.rng.integers(len(choice)))])

    def measure_of(self, row: int, fits: Callable[[Measure], bool]) -> int:
        """A measure of a mote's kit for which a fault makes sense, or -1."""
        kit = self.fleet.motes[row].kit
        fitting = [i for i, what in enumerate(self.scene.measures) if what.measure in kit and fits(what)]
        return fitting[int(self.rng.integers(len(fitting)))] if fitting else -1

    def cast(self, fate: str, row: int) -> Incident:
        """What one fate brings to one mote."""
        starts, here = self.daytime(), self.fleet.motes[row].zone_row
        lasting = Incident(fate, row, starts, self.end)
        match fate:
            case "unplugged":
                cast = replace(lasting, to_s=self.until(starts, 1500, 9000))
            case "unplugged_for_good":
                cast = replace(lasting, kind="unplugged")
            case "removed":
                cast = replace(lasting, is_noted=True)
            case "moved" | "planned_only":
                cast = replace(lasting, is_noted=True, place=self.elsewhere(here))
            case "moved_unnoted":
                cast = replace(lasting, kind="moved", place=self.elsewhere(here))
            case "found":
                found_s = self.until(starts, 7200, 18_000)
                cast = replace(lasting, is_noted=True, place=self.elsewhere(here), to_s=found_s)
            case "shut_in":
                cast = replace(lasting, to_s=self.until(starts, 10_000, 40_000))
            case "misregistered":
                cast = replace(lasting, from_s=self.fleet.motes[row].installed_s, place=self.elsewhere(here))
            case _:
                cast = replace(lasting, from_s=float(round(self.end * self.rng.uniform(0.7, 0.9))))
        return cast

    def break_sensor(self, fault: str, row: int) -> Incident:
        """A sensor of a mote that sticks, spikes, or says what it cannot measure; measure -1 if none can."""
        starts, measures = self.daytime(), self.scene.measures
        if fault == "stuck":
            column = self.measure_of(row, lambda what: what.flat_after_min is not None)
            flat_s = 60 * (measures[column].flat_after_min or 0)
            return Incident(fault, row, starts, self.until(starts, 2.5 * flat_s, 5 * flat_s), measure=column)
        if fault == "spiking":
            column = self.measure_of(row, can_spike)
            return Incident(fault, row, starts, self.end, measure=column, value=SPIKE_SHARE)
        column = self.measure_of(row, lambda what: what.offset_spread > 0)
        low, high = measures[column].span_low, measures[column].span_high
        beyond = low - 0.5 * abs(low) - 20 if self.rng.random() < 0.5 else 1.5 * high + 20
        return Incident(
            fault, row, starts, self.until(starts, 1200, 7200), measure=column, value=float(round(beyond))
        )

    def cast_all(self) -> list[Incident]:
        """Every mote's fate; at most two motes in five have one."""
        amount = self.plan.faults.mote_incidents
        free = [int(row) for row in self.rng.permutation(self.plan.motes)]
        found: list[Incident] = []
        for fate, share in SHARES if amount > 0 else ():
            for _ in range(max(1, round(share * amount * self.plan.motes))):
                fitting = [
                    row for row in free if fate != "battery_flat" or self.fleet.motes[row].power == "battery"
                ]
                if not fitting or len(found) >= max(1, 2 * self.plan.motes // 5):
                    break
                free.remove(fitting[0])
                cast = self.break_sensor if fate in SENSOR_FAULTS else self.cast
                found.append(cast(fate, fitting[0]))
        return [item for item in found if item.kind not in SENSOR_FAULTS or item.measure >= 0]


def can_spike(measure: Measure) -> bool:
    """Whether a spike of three steps still looks like something the sensor could report."""
    return measure.max_step is not None and 9 * measure.max_step < measure.span_high - measure.span_low
