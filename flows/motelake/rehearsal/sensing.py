"""Readings: the world as each mote's cheap sensors tell it, faults included."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from motelake.rehearsal.chance import BoolArray, FloatArray, IntArray
from motelake.rehearsal.crew import Fleet
from motelake.rehearsal.incidents import Incident
from motelake.rehearsal.places import Whereabouts
from motelake.rehearsal.power import Bursts, same_run
from motelake.rehearsal.venue import Measure, Scene

ABSENT = np.iinfo(np.int64).min  # the code of a measure that a mote does not carry


@dataclass(frozen=True)
class FaultyReadings:
    """Readings that are not what the sensor should have said; burst points into the span's bursts."""

    burst: IntArray
    measure: IntArray
    fault: tuple[str, ...]
    healthy: IntArray
    sent: IntArray


@dataclass(frozen=True)
class Instruments:
    """All that turns the world into readings; carries has shape (motes, measures)."""

    scene: Scene
    fleet: Fleet
    whereabouts: Whereabouts
    world: Mapping[str, FloatArray]
    carries: BoolArray
    period_s: float


def look_up(course: FloatArray, row: IntArray, second: FloatArray) -> FloatArray:
    """The world's value in a row at a second, straight between its minutes."""
    minute = np.clip((second // 60).astype(np.int64), 0, course.shape[1] - 2)
    share = second / 60 - minute
    return np.asarray(course[row, minute] * (1 - share) + course[row, minute + 1] * share)


def truth_at(tools: Instruments, measure: Measure, mote: IntArray, second: FloatArray) -> FloatArray:
    """What the world truly is where a mote is, blended while it is carried."""
    now, before, arrived = tools.whereabouts.at(mote, second)
    course = tools.world[measure.measure]
    value = look_up(course, now, second)
    under_way = np.flatnonzero(arrived < 1)
    if len(under_way):
        old = look_up(course, before[under_way], second[under_way])
        value[under_way] = old + arrived[under_way] * (value[under_way] - old)
    return value


def to_codes(measure: Measure, value: FloatArray) -> IntArray:
    """Values as the sensor rounds them, in units of the last decimal it writes."""
    step = round(measure.resolution * 10**measure.decimals)
    return np.asarray(np.rint(value / measure.resolution) * step, dtype=np.int64)


def sense(tools: Instruments, bursts: Bursts, rng: np.random.Generator) -> IntArray:
    """Healthy readings as codes, shape (bursts, measures); ABSENT where a kit lacks the measure."""
    codes = np.full((len(bursts.mote), len(tools.scene.measures)), ABSENT, dtype=np.int64)
    for column, measure in enumerate(tools.scene.measures):
        rows = np.flatnonzero(tools.carries[bursts.mote, column])
        mote, second = bursts.mote[rows], bursts.second[rows]
        value = truth_at(tools, measure, mote, second)
        offset, gain = tools.fleet.offsets[mote, column], tools.fleet.gains[mote, column]
        if measure.kind == "count":
            told = rng.poisson(np.maximum(value * gain * tools.period_s / 60, 0)).astype(np.float64)
        else:
            noise = rng.standard_normal(len(rows)) * measure.noise
            told = (
                value * gain * (1 + noise) + offset if measure.is_relative else value * gain + offset + noise
            )
        codes[rows, column] = to_codes(measure, np.clip(told, measure.span_low, measure.span_high))
    return codes


def spoil(
    tools: Instruments,
    bursts: Bursts,
    codes: IntArray,
    incidents: Sequence[Incident],
    rng: np.random.Generator,
) -> FaultyReadings:
    """Write the faults of single sensors into codes and tell which readings they are."""
    found: list[tuple[IntArray, int, str, IntArray]] = []
    follows = same_run(bursts)
    for incident in incidents:
        if incident.measure < 0:
            continue
        column, measure = incident.measure, tools.scene.measures[incident.measure]
        low, high = np.searchsorted(bursts.mote, [incident.row, incident.row + 1])
        second = bursts.second[low:high]
        rows = low + np.flatnonzero((second >= incident.from_s) & (second < incident.to_s))
        if not len(rows):
            continue
        unit = 10**measure.decimals
        if incident.kind == "stuck":
            mote = np.array([incident.row])
            frozen = truth_at(tools, measure, mote, np.array([incident.from_s]))
            frozen = frozen * tools.fleet.gains[mote, column] + tools.fleet.offsets[mote, column]
            wrong = np.repeat(to_codes(measure, frozen), len(rows))
        elif incident.kind == "spiking":
            is_hit = rng.random(len(rows)) < incident.value
            is_hit[1:] &= ~(is_hit[:-1] & follows[rows[1:]])
            size = rng.uniform(3, 4.5, len(rows)) * (measure.max_step or 0) + 6 * measure.noise
            sign = np.where(rng.random(len(rows)) < 0.5, -1.0, 1.0)
            rows, spike = rows[is_hit], (size * sign)[is_hit]
            wrong = codes[rows, column] + to_codes(measure, spike)
        else:
            wrong = np.full(len(rows), round(incident.value * unit))
        found.append((rows, column, incident.kind, codes[rows, column].copy()))
        codes[rows, column] = wrong
    if not found:
        empty = np.zeros(0, dtype=np.int64)
        return FaultyReadings(empty, empty, (), empty, empty)
    burst = np.concatenate([rows for rows, *_ in found])
    column_of = np.concatenate([np.full(len(rows), column) for rows, column, *_ in found])
    return FaultyReadings(
        burst,
        column_of,
        tuple(kind for rows, _, kind, _ in found for _ in range(len(rows))),
        np.concatenate([healthy for *_, healthy in found]),
        codes[burst, column_of],
    )
