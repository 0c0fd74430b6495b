"""What the crew put up: motes with their own offsets and clocks, networks and hidden gateways."""

from dataclasses import dataclass

import numpy as np

from motelake.rehearsal.chance import FloatArray, draw
from motelake.rehearsal.plan import Plan
from motelake.rehearsal.venue import Scene


@dataclass(frozen=True)
class Mote:
    """One mote as the crew knows it; zone_row points into the scene's zones, network counts from 0."""

    name: str
    network: int
    kit: tuple[str, ...]
    zone_row: int
    x_m: float
    y_m: float
    power: str
    installed_s: float
    is_registered: bool


@dataclass(frozen=True)
class Gateway:
    """The node that joins a network to the collector."""

    name: str
    network: str
    zone_row: int
    hidden_at: str


@dataclass(frozen=True)
class Fleet:
    """All motes with what only the rehearsal knows about each.

    offsets and gains have shape (motes, measures), all else (motes,).
    """

    motes: tuple[Mote, ...]
    gateways: tuple[Gateway, ...]
    offsets: FloatArray
    gains: FloatArray
    drift_ppm: FloatArray
    battery_v: FloatArray
    drain_v_per_h: FloatArray
    rssi_dbm: FloatArray


def network_count(plan: Plan) -> int:
    """About one network for 25 motes, but four as soon as there are forty."""
    if plan.networks is not None:
        return plan.networks
    return max(1, min(4, plan.motes // 10), round(plan.motes / 25))


def unregistered_count(plan: Plan) -> int:
    """Motes that send but that nobody wrote into the register: one in a fleet of twenty or more."""
    wanted = plan.faults.unregistered_motes
    return wanted if wanted is not None else int(plan.motes >= 20)


def put_up(plan: Plan, scene: Scene) -> Fleet:
    """The fleet of a scene, zone by zone, so that a network covers neighbouring zones."""
    rng = draw(plan.seed, "crew")
    extra = unregistered_count(plan)
    networks = network_count(plan)
    zone_rows = np.sort(np.arange(plan.motes) % len(scene.zones))
    motes = []
    for number in range(plan.motes + extra):
        is_registered = number < plan.motes
        row = int(zone_rows[number]) if is_registered else int(rng.integers(len(scene.zones)))
        zone = scene.zones[row]
        place = number if is_registered else int(np.searchsorted(zone_rows, row))
        # The crew walks the house the afternoon before; a forgotten mote is added half-way through.
        installed = -9.0 * 3600 + 14_400 * number / plan.motes if is_registered else scene.clock.seconds / 2
        # Adding 0.0 turns a rounded -0.0 into 0.0.
        motes.append(
            Mote(
                name=f"M{number + 1:04d}",
                network=place * networks // plan.motes,
                kit=scene.kits[(number + row) % len(scene.kits)],
                zone_row=row,
                x_m=round(float(zone.x_m + rng.uniform(-3, 3)), 1) + 0.0,
                y_m=round(float(zone.y_m + rng.uniform(-3, 3)), 1) + 0.0,
                power="mains" if rng.random() < 0.35 else "battery",
                installed_s=float(round(installed)),
                is_registered=is_registered,
            )
        )
    gateways = []
    for network in range(networks):
        members = [mote.zone_row for mote in motes if mote.network == network]
        hidden_at = scene.gateway_places[network % len(scene.gateway_places)]
        gateways.append(
            Gateway(f"G{network + 1:02d}", f"N{network + 1:02d}", members[len(members) // 2], hidden_at)
        )
    count = len(motes)
    spread = np.array([measure.offset_spread for measure in scene.measures])
    gain = np.array([measure.gain_spread for measure in scene.measures])
    is_mains = np.array([mote.power == "mains" for mote in motes])
    drift = plan.faults.drift_ppm
    return Fleet(
        motes=tuple(motes),
        gateways=tuple(gateways),
        offsets=rng.standard_normal((count, len(spread))) * spread,
        gains=np.exp(rng.standard_normal((count, len(gain))) * gain),
        drift_ppm=rng.uniform(-drift, drift, count),
        battery_v=np.where(is_mains, 3.3, rng.uniform(3.02, 3.18, count)),
        drain_v_per_h=np.where(is_mains, 0.0, rng.uniform(0.0008, 0.002, count) * min(1, 4 / plan.days)),
        rssi_dbm=rng.uniform(-84, -52, count),
    )
