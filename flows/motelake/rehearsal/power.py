"""Boots: from when to when each mote ran without losing power, and how fast its clock went."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from motelake.rehearsal.chance import BoolArray, FloatArray, IntArray, draw
from motelake.rehearsal.crew import Fleet
from motelake.rehearsal.incidents import CARRY_S, Incident
from motelake.rehearsal.plan import Plan
from motelake.rehearsal.venue import Scene


@dataclass(frozen=True)
class Boots:
    """One row a boot, by mote and time; number counts a mote's boots from 0, period_s is the true one."""

    mote: IntArray
    number: IntArray
    from_s: FloatArray
    to_s: FloatArray
    period_s: FloatArray
    cause: tuple[str, ...]


@dataclass(frozen=True)
class Bursts:
    """The bursts that motes send in a span of time, by mote and time; boot is a row of Boots."""

    mote: IntArray
    boot: IntArray
    seq: IntArray
    second: FloatArray


def dark_spans(
    fleet: Fleet, incidents: Sequence[Incident], rng: np.random.Generator
) -> list[list[tuple[float, float, str]]]:
    """For each mote the spans without power: from, to, what ended them (the cause of the next boot)."""
    dark: list[list[tuple[float, float, str]]] = [[] for _ in fleet.motes]
    for incident in incidents:
        starts, ends = incident.from_s, incident.to_s
        match incident.kind:
            case "unplugged" | "removed" | "battery_flat":
                dark[incident.row].append((starts, ends, incident.kind))
            case "restart":
                dark[incident.row].append((starts, ends, "restart"))
            case "moved" if fleet.motes[incident.row].power == "mains":
                dark[incident.row].append((starts, starts + CARRY_S + 60, "moved"))
            case "power_cut":
                for row, mote in enumerate(fleet.motes):
                    if mote.zone_row == incident.row and mote.power == "mains":
                        dark[row].append((starts, ends + float(rng.uniform(2, 20)), "power_cut"))
    return dark


def run_boots(plan: Plan, scene: Scene, fleet: Fleet, incidents: Sequence[Incident]) -> Boots:
    """Every boot of every mote, from its installation to the campaign's end."""
    rng = draw(plan.seed, "power")
    period, strays = plan.burst_period_s or scene.burst_period_s, plan.faults.drift_ppm
    rows: list[tuple[int, int, float, float, float, str]] = []
    for row, spans in enumerate(dark_spans(fleet, incidents, rng)):
        # A mote's clock keeps its error; warmth changes it by a little from boot to boot.
        starts, cause, number = fleet.motes[row].installed_s + float(rng.uniform(0, period)), "installed", 0
        for dark_from, dark_to, why in [*sorted(spans), (scene.clock.seconds, scene.clock.seconds, "")]:
            ppm = float(np.clip(fleet.drift_ppm[row] + rng.normal(0, 1), -strays, strays))
            if dark_from > starts:
                rows.append((row, number, starts, dark_from, period * (1 + ppm / 1e6), cause))
                number += 1
            if dark_to > starts:
                starts, cause = dark_to + float(rng.uniform(1, 6)), why
    columns = list(zip(*rows, strict=True))
    return Boots(
        np.array(columns[0], dtype=np.int64),
        np.array(columns[1], dtype=np.int64),
        np.array(columns[2]),
        np.array(columns[3]),
        np.array(columns[4]),
        tuple(columns[5]),
    )


def bursts_between(boots: Boots, from_s: float, to_s: float) -> Bursts:
    """All bursts sampled in [from_s, to_s)."""
    first = np.maximum(from_s, boots.from_s)
    last = np.minimum(to_s, boots.to_s)
    low = np.ceil((first - boots.from_s) / boots.period_s).astype(np.int64)
    high = np.ceil((last - boots.from_s) / boots.period_s).astype(np.int64)
    count: IntArray = np.maximum(high - low, 0)
    boot = np.repeat(np.arange(len(count)), count)
    within = np.arange(int(count.sum())) - np.repeat(np.cumsum(count) - count, count)
    seq = low[boot] + within
    return Bursts(boots.mote[boot], boot, seq, boots.from_s[boot] + seq * boots.period_s[boot])


def same_run(bursts: Bursts) -> BoolArray:
    """Whether a burst follows the row before it in the same boot."""
    return (
        np.concatenate([[False], bursts.boot[1:] == bursts.boot[:-1]])
        if len(bursts.boot)
        else np.zeros(0, bool)
    )
