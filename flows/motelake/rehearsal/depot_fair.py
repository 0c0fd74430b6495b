"""The Depot Fair: a seed and craft fair in a former tram depot, on four levels."""

from datetime import UTC, datetime, time, timedelta
from zoneinfo import ZoneInfo

import numpy as np

from motelake.rehearsal.agenda import make_agenda
from motelake.rehearsal.air import GAS_MIN, HEAT_MIN, MOISTURE_MIN, invent_air
from motelake.rehearsal.chance import draw
from motelake.rehearsal.crowd import SETTLE_MIN, footsteps, invent_crowd, visitors
from motelake.rehearsal.depot import (
    DAY_SHARE,
    HIDING_PLACES,
    HOPS,
    KITS,
    LAMPS_LX,
    LEVELS,
    MEASURES,
    TIME_ZONE,
    lay_out_zones,
)
from motelake.rehearsal.light import invent_light, radio_noise
from motelake.rehearsal.plan import Plan
from motelake.rehearsal.sound import invent_sound
from motelake.rehearsal.venue import Clock, Point, Scene, Stream
from motelake.rehearsal.weather import Weather, invent_weather


def watch_outside(
    seed: int, clock: Clock, weather: Weather, most: float, notes: tuple[Point, ...]
) -> tuple[Stream, ...]:
    """What others measured or noted: weather every ten minutes, ticket scans every minute, notes."""
    rng = draw(seed, "context")
    ten = range(0, clock.minutes - 1, 10)
    air = [round(float(value) + rng.normal(0, 0.1), 1) for value in weather.temperature_c[::10]]
    barometer = [round(float(value) + 0.4, 1) for value in weather.pressure_hpa[::10]]
    _, hour = clock.local()
    arriving = np.clip(np.diff(visitors(seed, clock, most), prepend=0), 0, None)
    scans = rng.poisson(arriving * 1.25)
    is_open = (hour >= 8.75) & (hour < 21)
    return (
        Stream("outdoor_temperature", "Temperature at the yard mast", "Cel", "level", 30, tuple(
            Point(clock.at(60 * minute), value) for minute, value in zip(ten, air, strict=False)
        )),
        Stream("outdoor_pressure", "Pressure at the yard mast", "hPa", "level", 30, tuple(
            Point(clock.at(60 * minute), value) for minute, value in zip(ten, barometer, strict=False)
        )),
        Stream("ticket_scans", "Tickets scanned at the entrance", "count", "count", 1, tuple(
            Point(clock.at(60 * int(minute)), float(scans[minute]), "track-entrance")
            for minute in np.flatnonzero(is_open[:-1])
        )),
        Stream("notes", "What the crew wrote down", "", "", 60, notes),
    )  # fmt: skip


def crew_notes(plan: Plan, clock: Clock) -> tuple[Point, ...]:
    """A few lines of the crew's log for each day."""
    local = ZoneInfo(TIME_ZONE)
    lines = (
        ("08:10", "track-entrance", "gate opened for deliveries"),
        ("12:05", "pit-kitchen", "soup is out, queue to the stairs"),
        ("17:10", "pit-stage", "sound check"),
        ("21:30", "", "sweeping, all visitors gone"),
    )
    return tuple(
        Point(
            datetime.combine(
                plan.first_date + timedelta(days=day), time.fromisoformat(clock_time), local
            ).astimezone(UTC),
            None,
            zone,
            note,
        )
        for day in range(plan.days)
        for clock_time, zone, note in lines
    )


def imagine_depot_fair(plan: Plan) -> Scene:
    """The fair as it truly goes, before any mote listens."""
    local = ZoneInfo(TIME_ZONE)
    starts_at = datetime.combine(plan.first_date, time(), local).astimezone(UTC)
    ends_at = datetime.combine(plan.first_date + timedelta(days=plan.days), time(), local).astimezone(UTC)
    clock = Clock(starts_at, ends_at, TIME_ZONE)
    zones = lay_out_zones(plan.motes)
    known = {zone.zone for zone in zones}
    events = make_agenda(zones, plan.first_date, plan.days, TIME_ZONE)
    weather = invent_weather(plan.seed, clock)
    most = 34.0 * len(zones)
    people = invent_crowd(plan.seed, clock, zones, events=events, hops=HOPS, most=most)
    air = invent_air(
        plan.seed, clock, zones, heights_m=LEVELS, people=people, weather=weather, open_air=("roof",)
    )
    light = invent_light(
        plan.seed,
        clock,
        zones,
        events=events,
        weather=weather,
        day_share=DAY_SHARE,
        lamps_lx=LAMPS_LX,
    )
    storeys = tuple(LEVELS)
    notes = tuple(note for note in crew_notes(plan, clock) if not note.zone or note.zone in known)
    return Scene(
        title="Depot Fair",
        clock=clock,
        burst_period_s=20.0,
        levels=LEVELS,
        baseline=("05:00", "07:00"),
        open_hours=("09:00", "21:00"),
        zones=zones,
        measures=MEASURES,
        kits=KITS,
        gateway_places=HIDING_PLACES,
        events=events,
        streams=watch_outside(plan.seed, clock, weather, most, notes),
        world={
            "temperature": air.temperature,
            "pressure": air.pressure,
            "relative_humidity": air.humidity,
            "sound": invent_sound(plan.seed, clock, zones, storeys=storeys, events=events, people=people),
            "light": light,
            "footsteps": footsteps(people, zones, events, clock),
            "radio": radio_noise(plan.seed, people),
            "air_quality": air.gas,
        },
        people=people,
        drivers={"people": people},
        delays_min={
            "people": SETTLE_MIN,
            "air_quality": GAS_MIN,
            "temperature": HEAT_MIN,
            "relative_humidity": MOISTURE_MIN,
        },
    )
