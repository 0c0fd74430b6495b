"""From mote to collector: loss, delay, bursts heard twice, gateways that die or store."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from motelake.rehearsal.chance import BoolArray, FloatArray, IntArray
from motelake.rehearsal.crew import Fleet
from motelake.rehearsal.incidents import Incident
from motelake.rehearsal.plan import Faults
from motelake.rehearsal.power import Bursts, same_run

BORDER_SHARE = 0.2  # of a network's motes stand close enough to the next network to be heard there
FLUSH_SPREAD_S = 0.8  # a stored hour passes the uplink in less than a second


@dataclass(frozen=True)
class Hearings:
    """Bursts as gateways heard them; burst points into the bursts, received_s is the collector's stamp."""

    burst: IntArray
    gateway: IntArray
    received_s: FloatArray
    rssi_dbm: IntArray
    is_flushed: BoolArray


def lose(bursts: Bursts, faults: Faults, rng: np.random.Generator) -> BoolArray:
    """Which bursts the radio loses: runs of geometric length, begun by chance, within one boot."""
    count = len(bursts.mote)
    lost = np.zeros(count, dtype=bool)
    if faults.loss_share <= 0:
        return lost
    # A burst stays when no run reaches it: (1 - start)^length, so the share lost is what was asked for.
    start = 1 - (1 - faults.loss_share) ** (1 / faults.loss_run)
    starts = np.flatnonzero(rng.random(count) < start)
    lengths = rng.geometric(1 / faults.loss_run, len(starts))
    follows = same_run(bursts)
    reach = starts.copy()
    for step in range(int(lengths.max(initial=0))):
        alive = lengths > step
        lost[reach[alive]] = True
        reach = np.minimum(reach + 1, count - 1)
        lengths = np.where(follows[reach], lengths, 0)
    return lost


def delays(count: int, faults: Faults, rng: np.random.Generator) -> FloatArray:
    """Seconds from sampling to arrival: exponential, and now and then a long way round."""
    delay = rng.exponential(faults.delay_mean_s, count)
    slow = rng.random(count) < faults.slow_share
    return delay + np.where(slow, rng.uniform(faults.slow_from_s, max(faults.slow_to_s, 0.001), count), 0)


def overhear(
    fleet: Fleet, mote: IntArray, faults: Faults, rng: np.random.Generator
) -> tuple[IntArray, IntArray]:
    """Which bursts a second gateway hears too, and which one: only motes near the next network are heard."""
    networks = len(fleet.gateways)
    if networks < 2:
        return np.zeros(0, dtype=np.int64), np.zeros(0, dtype=np.int64)
    home = np.array([mote.network for mote in fleet.motes])
    # Motes are numbered along the house, so a network's last ones stand next to the following network.
    size = np.bincount(home, minlength=networks)
    order = np.argsort(home, kind="stable")
    rank = np.empty(len(home), dtype=np.int64)
    rank[order] = np.arange(len(home)) - np.repeat(np.cumsum(size) - size, size)
    is_near = rank >= size[home] - np.ceil(BORDER_SHARE * size[home])
    share = np.where(is_near, faults.overheard_share * len(home) / is_near.sum(), 0)
    rows = np.flatnonzero(rng.random(len(mote)) < share[mote])
    here = home[mote[rows]]
    return rows, np.where(here + 1 < networks, here + 1, here - 1)


def hear(
    fleet: Fleet, bursts: Bursts, incidents: Sequence[Incident], faults: Faults, rng: np.random.Generator
) -> tuple[Hearings, BoolArray]:
    """Every hearing of the bursts, and which bursts the radio lost."""
    lost = lose(bursts, faults, rng)
    kept = np.flatnonzero(~lost)
    home = np.array([mote.network for mote in fleet.motes])
    first = bursts.second[kept] + delays(len(kept), faults, rng)

    again = np.flatnonzero(rng.random(len(kept)) < faults.resent_share)
    later = first[again] + rng.uniform(0.5, 4, len(again)) + delays(len(again), faults, rng)

    aside, neighbour = overhear(fleet, bursts.mote[kept], faults, rng)
    across = bursts.second[kept[aside]] + delays(len(aside), faults, rng)

    burst = np.concatenate([kept, kept[again], kept[aside]])
    network = home[bursts.mote[burst]]
    gateway = np.concatenate([network[: len(kept) + len(again)], neighbour])
    received = np.concatenate([first, later, across])
    weaker = np.concatenate([np.zeros(len(kept) + len(again)), np.full(len(aside), 9.0)])
    rssi = np.rint(fleet.rssi_dbm[bursts.mote[burst]] - weaker + rng.normal(0, 2.2, len(burst)))

    silent = np.zeros(len(burst), dtype=bool)
    flushed = np.zeros(len(burst), dtype=bool)
    for incident in incidents:
        within = (received >= incident.from_s) & (received < incident.to_s)
        if incident.kind == "gateway_dead":
            # A mesh is carried by its gateway: without it nothing is relayed to a neighbour either.
            silent |= within & ((gateway == incident.row) | (network == incident.row))
        elif incident.kind == "gateway_flush":
            stored = within & (gateway == incident.row)
            through = (received[stored] - incident.from_s) / (incident.to_s - incident.from_s)
            received[stored] = incident.to_s + 1 + FLUSH_SPREAD_S * through
            flushed |= stored
    heard = ~silent
    return (
        Hearings(
            burst[heard],
            gateway[heard],
            received[heard],
            rssi[heard].astype(np.int64),
            flushed[heard],
        ),
        lost,
    )
