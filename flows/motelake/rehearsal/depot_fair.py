"""The Depot Fair: a seed and craft fair in a former tram depot, on four levels."""

from datetime import datetime, time, timedelta, timezone
from zoneinfo import ZoneInfo

import numpy as np

from motelake.rehearsal.agenda import make_agenda
from motelake.rehearsal.air import GAS_MIN, HEAT_MIN, MOISTURE_MIN, invent_air
from motelake.rehearsal.chance import draw
from motelake.rehearsal.crowd import SETTLE_MIN, footsteps, invent_crowd, visitors
from motelake.rehearsal.light import invent_light, radio_noise
from motelake.rehearsal.plan import Plan
from motelake.rehearsal.sound import invent_sound
from motelake.rehearsal.venue import Clock, Measure, Point, Scene, Stream, Zone
from motelake.rehearsal.weather import Weather, invent_weather

TIME_ZONE = "Europe/Lisbon"
LEVELS = {"pit": 0.0, "track": 3.1, "gallery": 7.3, "roof": 11.7}
HOPS = {"track": 0, "pit": 1, "gallery": 1, "roof": 2}
DAY_SHARE = {"pit": 0.0, "track": 0.006, "gallery": 0.03, "roof": 1.0}
LAMPS_LX = {"pit": 260.0, "track": 320.0, "gallery": 300.0, "roof": 0.0}
# name, title, kind, area of the zones that every fair has, in the order in which a small fair gets them
ROOMS: dict[str, tuple[tuple[str, str, str, float], ...]] = {
    "track": (
        ("track-entrance", "Entrance and tickets", "entrance", 180),
        ("track-swap", "Seed swap tables", "exchange", 220),
        ("track-aisle-east", "Stalls, east aisle", "hall", 160),
        ("track-aisle-west", "Stalls, west aisle", "hall", 160),
    ),
    "pit": (
        ("pit-stage", "Stage in the inspection pit", "stage", 320),
        ("pit-kitchen", "Kitchen and long tables", "food", 200),
        ("pit-bay-north", "North bay", "hall", 140),
    ),
    "gallery": (
        ("gallery-talks", "Talks in the signal room", "talk", 120),
        ("gallery-bench", "Workshop benches", "workshop", 140),
        ("gallery-walk", "Walk along the skylights", "walk", 110),
        ("gallery-library", "Seed library", "exchange", 90),
    ),
    "roof": (
        ("roof-beds", "Roof garden beds", "garden", 260),
        ("roof-terrace", "Terrace", "walk", 180),
        ("roof-shed", "Potting shed", "workshop", 80),
    ),
}
MORE_ROOMS = {"track": "aisle", "pit": "bay", "gallery": "side", "roof": "bed"}
HIDING_PLACES = (
    "behind the ticket counter", "inside the old fuse box", "under the stage steps", "on top of the shelf of jars",
    "behind the fire hose", "in the clock case", "above the signal levers", "under the potting bench",
)  # fmt: skip
MEASURES = (
    Measure("temperature", "Air temperature", "Cel", "level", "temperature",
            -40, 85, 0, 45, 3, 90, 0.1, 1, 0.35, 0.07),
    Measure("pressure", "Air pressure", "hPa", "level", "air_pressure",
            300, 1100, 960, 1050, 1.5, 90, 0.1, 1, 0.5, 0.06),
    Measure("relative_humidity", "Relative humidity", "%RH", "level", "relative_humidity",
            0, 100, 10, 99, 10, 90, 0.5, 1, 1.8, 0.3),
    Measure("sound", "Sound level", "dB", "decibel", "sound",
            25, 125, 28, 115, 55, 60, 0.5, 1, 1.2, 1.3),
    Measure("light", "Illuminance", "lx", "level", "light",
            0, 88000, 0, 80000, None, None, 1, 0, 0, 0.02, 0.08, True),
    Measure("footsteps", "Footsteps felt in the floor", "count", "count", "crowd",
            0, 2000, 0, 800, None, None, 1, 0, 0, 0, 0.2),
    Measure("radio", "Foreign radio level", "dBm", "decibel", "",
            -110, 0, -105, -30, 22, 60, 1, 0, 2.0, 1.6),
    Measure("air_quality", "Carbon dioxide", "ppm", "level", "",
            0, 10000, 350, 6000, 450, 60, 1, 0, 25, 9),
)  # fmt: skip
KITS = (
    ("temperature", "pressure", "sound", "light", "footsteps"),
    ("temperature", "pressure", "relative_humidity", "air_quality", "sound", "footsteps"),
    ("temperature", "pressure", "relative_humidity", "sound", "light", "footsteps", "radio"),
)


def lay_out_zones(motes: int) -> tuple[Zone, ...]:
    """About 14 zones for 40 motes and 40 for 500, spread over the levels."""
    wanted = min(max(len(LEVELS), motes // 3), max(4, round(40 * (motes / 500) ** 0.42)))
    counts = dict.fromkeys(ROOMS, 0)
    for number in range(wanted):
        # The smaller levels of a small fair stop growing first, as their named rooms run out.
        order = list(ROOMS)
        level = order[number % len(order)]
        if number < 14 and counts[level] >= len(ROOMS[level]):
            level = next((name for name in order if counts[name] < len(ROOMS[name])), level)
        counts[level] += 1
    zones: list[Zone] = []
    for level in LEVELS:
        for position in range(counts[level]):
            if position < len(ROOMS[level]):
                zone, title, kind, area = ROOMS[level][position]
            else:
                number = position - len(ROOMS[level]) + 1
                word = MORE_ROOMS[level]
                zone, title, kind, area = (
                    f"{level}-{word}-{number}",
                    f"{word.title()} {number}",
                    "hall",
                    130.0,
                )
            zones.append(
                Zone(zone, level, title, kind, area, 12.0 * (position % 6) + 6, 14.0 * (position // 6) + 7)
            )
    return tuple(zones)


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
        Stream("notes", "What the crew wrote down", "", "note", 60, notes),
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
            ).astimezone(timezone.utc),
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
    starts_at = datetime.combine(plan.first_date, time(), local).astimezone(timezone.utc)
    ends_at = datetime.combine(plan.first_date + timedelta(days=plan.days), time(), local).astimezone(
        timezone.utc
    )
    clock = Clock(starts_at, ends_at, TIME_ZONE)
    zones = lay_out_zones(plan.motes)
    known = {zone.zone for zone in zones}
    events = make_agenda(zones, plan.first_date, plan.days, TIME_ZONE)
    weather = invent_weather(plan.seed, clock)
    most = 34.0 * len(zones)
    people = invent_crowd(plan.seed, clock, zones, events, HOPS, most)
    air = invent_air(plan.seed, clock, zones, LEVELS, people, weather, ("roof",))
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
            "sound": invent_sound(plan.seed, clock, zones, storeys, events, people),
            "light": invent_light(plan.seed, clock, zones, events, weather, DAY_SHARE, LAMPS_LX),
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
