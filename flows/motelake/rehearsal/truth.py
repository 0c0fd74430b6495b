"""The truth beside a rehearsed lake: what really happened, for grading and for nobody else.

Files in <lake>-truth/ (times UTC):
plan.json            the plan, and the constants of the physics (time constants in minutes, storey pressure)
motes.csv            mote, network, zone (true at the start), registered_zone, drift_ppm, is_registered, power
boots.csv            mote, boot, started_at, ended_at, cause, true_period_s
placements.csv       mote, from_at, to_at, zone, level, is_shut_in: where each mote truly was
incidents.csv        kind, subject, from_at, to_at, measure, zone, is_noted: everything that went wrong
bursts.parquet       mote, boot, seq, sampled_at, hearings (undamaged lines), is_flushed, fate
                     (heard, lost_by_radio, lost_with_gateway, damaged)
faulty_readings.parquet  mote, boot, seq, sampled_at, measure, fault, healthy, sent
world.parquet        zone, minute_at, people, and each measure's true value (counts: events a minute)
lags.csv             zone, leader, follower, lag_min, r: where the true courses fit best, on the minute grid
objects.csv          object, gateway, lines, damaged
rejects.parquet      object, line, reason, damage, mote
reading_rejects.parquet  object, line, reason, mote, measure
dropped.csv          field, lines
planted.json         identifiers that must appear nowhere outside raw/
unregistered_motes.csv   rows that motes.csv lacks, in its format
"""

import json
from datetime import datetime
from pathlib import Path
from typing import Any

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq

from motelake.rehearsal.air import HPA_PER_M
from motelake.rehearsal.campaign_files import MOTE_COLUMNS, csv_text, mote_row
from motelake.rehearsal.chronicle import named, stamps
from motelake.rehearsal.crew import Fleet
from motelake.rehearsal.delivery import Ledger
from motelake.rehearsal.incidents import Incident
from motelake.rehearsal.story import Story
from motelake.rehearsal.venue import Clock, Scene

Row = tuple[object, ...]

LONGEST_LAG_MIN = 60
MOTES = ("mote", "network", "zone", "registered_zone", "drift_ppm", "is_registered", "power")
BOOTS = ("mote", "boot", "started_at", "ended_at", "cause", "true_period_s")
PLACEMENTS = ("mote", "from_at", "to_at", "zone", "level", "is_shut_in")
INCIDENTS = ("kind", "subject", "from_at", "to_at", "measure", "zone", "is_noted")
LAGS = ("zone", "leader", "follower", "lag_min", "r")


def stamp_text(clock: Clock, second: float) -> str:
    """A second of the campaign as RFC 3339 in UTC with milliseconds."""
    at = datetime.fromtimestamp(clock.starts_at.timestamp() + round(second, 3), clock.starts_at.tzinfo)
    return at.strftime("%Y-%m-%dT%H:%M:%S.") + f"{at.microsecond // 1000:03d}Z"


def subject_of(incident: Incident, scene: Scene, fleet: Fleet) -> str:
    """The mote, gateway or zone an incident befell."""
    if incident.kind in ("gateway_dead", "gateway_flush", "garbage", "redelivered"):
        return fleet.gateways[incident.row].name
    return scene.zones[incident.row].zone if incident.kind == "power_cut" else fleet.motes[incident.row].name


def best_lags(scene: Scene) -> list[Row]:
    """For each zone, driver and measure the lag at which the true courses fit best; > 0: it leads."""
    rows: list[Row] = []
    for leader, courses in scene.drivers.items():
        for measure, world in scene.world.items():
            for row, zone in enumerate(scene.zones):
                a, b = courses[row], world[row]
                if a.std() == 0 or b.std() == 0:
                    continue
                fits = [
                    float(np.corrcoef(a[: len(a) - lag], b[lag:])[0, 1]) for lag in range(LONGEST_LAG_MIN + 1)
                ]
                lag = int(np.argmax(np.abs(fits)))
                rows.append((zone.zone, leader, measure, lag, f"{fits[lag]:.4f}"))
    return rows


def write_world(folder: Path, scene: Scene) -> None:
    """world.parquet: the true course of every zone."""
    steps = scene.clock.minutes
    columns: dict[str, Any] = {
        "zone": named([zone.zone for zone in scene.zones], np.repeat(np.arange(len(scene.zones)), steps)),
        "minute_at": stamps(scene.clock, np.tile(np.arange(steps) * 60.0, len(scene.zones))),
    }
    if scene.people is not None:
        columns["people"] = pa.array(scene.people.ravel())
    for measure, course in scene.world.items():
        columns[measure] = pa.array(course.astype(np.float32).ravel())
    pq.write_table(pa.table(columns), folder / "world.parquet", compression="zstd")


def mote_rows(story: Story) -> list[Row]:
    """Rows of the truth's motes.csv."""
    scene, fleet = story.scene, story.fleet
    true_zone = {place.mote: place.zone_row for place in reversed(story.tools.whereabouts.places)}
    return [
        (
            mote.name,
            f"N{mote.network + 1:02d}",
            scene.zones[true_zone[row]].zone,
            scene.zones[mote.zone_row].zone,
            f"{fleet.drift_ppm[row]:.2f}",
            mote.is_registered,
            mote.power,
        )
        for row, mote in enumerate(fleet.motes)
    ]


def boot_rows(story: Story) -> list[Row]:
    """Rows of boots.csv."""
    boots, clock = story.boots, story.scene.clock
    return [
        (
            story.fleet.motes[mote].name,
            number,
            stamp_text(clock, from_s),
            stamp_text(clock, to_s),
            cause,
            f"{period:.9f}",
        )
        for mote, number, from_s, to_s, period, cause in zip(
            boots.mote.tolist(),
            boots.number.tolist(),
            boots.from_s.tolist(),
            boots.to_s.tolist(),
            boots.period_s.tolist(),
            boots.cause,
            strict=True,
        )
    ]


def placement_rows(story: Story) -> list[Row]:
    """Rows of the truth's placements.csv."""
    scene, motes, places = story.scene, story.fleet.motes, story.tools.whereabouts.places
    return [
        (
            motes[place.mote].name,
            stamp_text(scene.clock, max(place.from_s, motes[place.mote].installed_s)),
            stamp_text(
                scene.clock, after.from_s if after and after.mote == place.mote else scene.clock.seconds
            ),
            scene.zones[place.zone_row].zone,
            scene.zones[place.zone_row].level,
            place.shut_in >= 0,
        )
        for place, after in zip(places, [*places[1:], None], strict=True)
    ]


def incident_rows(story: Story) -> list[Row]:
    """Rows of incidents.csv, by time."""
    scene = story.scene
    return [
        (
            item.kind,
            subject_of(item, scene, story.fleet),
            stamp_text(scene.clock, item.from_s),
            stamp_text(scene.clock, item.to_s),
            scene.measures[item.measure].measure if item.measure >= 0 else "",
            scene.zones[item.place].zone if item.place >= 0 else "",
            item.is_noted,
        )
        for item in sorted(story.incidents, key=lambda item: (item.from_s, item.kind, item.row))
    ]


def write_truth(folder: Path, story: Story) -> None:
    """Everything of the truth that is known before the first burst is sent."""
    scene = story.scene
    physics = {"delays_min": dict(scene.delays_min), "hpa_per_m": HPA_PER_M}
    plan = {"plan": story.plan.as_json(), "physics": physics}
    (folder / "plan.json").write_text(json.dumps(plan, indent=1) + "\n")
    unregistered = [mote_row(scene, mote) for mote in story.fleet.motes if not mote.is_registered]
    for name, columns, rows in (
        ("motes", MOTES, mote_rows(story)),
        ("boots", BOOTS, boot_rows(story)),
        ("placements", PLACEMENTS, placement_rows(story)),
        ("incidents", INCIDENTS, incident_rows(story)),
        ("unregistered_motes", MOTE_COLUMNS, unregistered),
        ("lags", LAGS, best_lags(scene)),
    ):
        (folder / f"{name}.csv").write_text(csv_text(columns, rows))
    write_world(folder, scene)


def write_ledger(folder: Path, ledger: Ledger) -> None:
    """What was delivered and what of it should be refused."""
    for name, last, rows in (
        ("rejects", ("damage", "mote"), ledger.rejects),
        ("reading_rejects", ("mote", "measure"), ledger.reading_rejects),
    ):
        columns = list(zip(*rows, strict=True)) or [()] * 5
        schema = pa.schema([
            ("object", pa.string()), ("line", pa.int64()), ("reason", pa.string()),
            *((title, pa.string()) for title in last),
        ])  # fmt: skip
        table = pa.table(
            [pa.array(list(column), item.type) for column, item in zip(columns, schema, strict=True)],
            schema=schema,
        )
        pq.write_table(table, folder / f"{name}.parquet", compression="zstd")
    (folder / "objects.csv").write_text(csv_text(("object", "gateway", "lines", "damaged"), ledger.delivered))
    (folder / "dropped.csv").write_text(csv_text(("field", "lines"), sorted(ledger.dropped.items())))
    (folder / "planted.json").write_text(json.dumps(sorted(set(ledger.badges)), indent=1) + "\n")
