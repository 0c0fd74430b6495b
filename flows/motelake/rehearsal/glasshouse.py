"""A small glasshouse: soil that dries and is watered, air that follows sun and vents; nobody walks in."""

from datetime import UTC, datetime, time, timedelta
from zoneinfo import ZoneInfo

import numpy as np

from motelake.rehearsal.chance import FloatArray, draw, follow, wander
from motelake.rehearsal.plan import Plan
from motelake.rehearsal.venue import Clock, Event, Measure, Point, Scene, Stream, Zone
from motelake.rehearsal.weather import Weather, invent_weather, saturation_hpa

TIME_ZONE = "Europe/Lisbon"
LEVELS = {"ground": 0.0, "bench": 0.9}
SUN_MIN, VENT_MIN, SOAK_MIN, DRY_H = 14.0, 6.0, 9.0, 70.0
ZONES = (
    Zone("ground-tomato", "ground", "Tomato row", "bed", 24, 3, 4),
    Zone("ground-melon", "ground", "Melon row", "bed", 24, 9, 4),
    Zone("bench-seedlings", "bench", "Seedling bench", "bench", 12, 3, 12),
    Zone("bench-herbs", "bench", "Herb bench", "bench", 12, 9, 12),
)
MEASURES = (
    Measure("temperature", "Air temperature", "Cel", "level", "temperature",
            -40, 85, 0, 55, 4, 90, 0.1, 1, 0.3, 0.07),
    Measure("relative_humidity", "Relative humidity", "%RH", "level", "relative_humidity",
            0, 100, 10, 100, 15, 90, 0.5, 1, 1.5, 0.3),
    Measure("soil_moisture", "Water content of the soil by volume", "%", "level", "",
            0, 60, 4, 55, 9, 180, 0.1, 1, 1.2, 0.08),
    Measure("light", "Illuminance", "lx", "level", "light",
            0, 88000, 0, 80000, None, None, 1, 0, 0, 0.02, 0.08, True),
)  # fmt: skip
KITS = (
    ("temperature", "relative_humidity", "soil_moisture"),
    ("temperature", "soil_moisture", "light"),
)
# kind, title, zones, starts, minutes; by parity of the day, so that the same hour of another day can be quiet
DAYS: tuple[tuple[tuple[str, str, tuple[str, ...], str, int], ...], ...] = (
    (
        ("irrigation", "Drip line, rows", ("ground-tomato", "ground-melon"), "06:30", 25),
        ("misting", "Mist over the seedlings", ("bench-seedlings",), "11:00", 10),
        ("vent", "Roof vents open", (), "12:30", 90),
        ("irrigation", "Benches by hand", ("bench-seedlings", "bench-herbs"), "18:00", 20),
    ),
    (
        ("irrigation", "Benches by hand", ("bench-seedlings", "bench-herbs"), "07:45", 20),
        ("vent", "Roof vents open", (), "14:20", 80),
        ("misting", "Mist over the seedlings", ("bench-seedlings",), "16:15", 10),
        ("irrigation", "Drip line, rows", ("ground-tomato", "ground-melon"), "19:30", 25),
    ),
)


def make_rounds(plan: Plan) -> tuple[Event, ...]:
    """Irrigation, misting and venting of every day, in order."""
    local = ZoneInfo(TIME_ZONE)
    found = []
    for number in range(plan.days):
        for kind, title, zones, starts, minutes in DAYS[number % 2]:
            on = plan.first_date + timedelta(days=number)
            begins = datetime.combine(on, time.fromisoformat(starts), local).astimezone(UTC)
            found.append((begins, minutes, kind, title, zones))
    return tuple(
        Event(f"W{i:03d}", title, kind, zones, begins, begins + timedelta(minutes=minutes))
        for i, (begins, minutes, kind, title, zones) in enumerate(sorted(found), 1)
    )


def during(events: tuple[Event, ...], kind: str, clock: Clock) -> FloatArray:
    """1 in the minutes in which an event of a kind is on in a zone, else 0; shape (zones, minutes)."""
    minute = np.arange(clock.minutes, dtype=np.float64)
    active = np.zeros((len(ZONES), clock.minutes))
    for event in events:
        if event.kind != kind:
            continue
        is_on = (minute >= clock.second_of(event.starts_at) / 60) & (
            minute < clock.second_of(event.ends_at) / 60
        )
        for row, zone in enumerate(ZONES):
            if not event.zones or zone.zone in event.zones:
                active[row] = np.maximum(active[row], is_on)
    return active


def soil_course(seed: int, watering: FloatArray, sun: FloatArray) -> FloatArray:
    """Soil moisture in %: soaks while watered, up to what the soil holds, and dries with the sun."""
    rng = draw(seed, "soil")
    rows, steps = watering.shape
    moisture = rng.uniform(18, 26, rows)
    course = np.empty((rows, steps))
    for step in range(steps):
        dry = (moisture - 6) / (60 * DRY_H) * (0.3 + 2.0 * sun[step])
        moisture = np.minimum(moisture + 0.55 * watering[:, step] - dry, 42.0)
        course[:, step] = moisture
    return follow(course, SOAK_MIN)


def watch_outside(seed: int, weather: Weather, clock: Clock) -> tuple[Stream, ...]:
    """The weather station in the yard."""
    rng = draw(seed, "context")
    ten = range(0, clock.minutes - 1, 10)
    air = [round(float(value) + rng.normal(0, 0.1), 1) for value in weather.temperature_c[::10]]
    return (
        Stream("outdoor_temperature", "Temperature in the yard", "Cel", "level", 30, tuple(
            Point(clock.at(60 * minute), value) for minute, value in zip(ten, air, strict=False)
        )),
        Stream("outdoor_light", "Daylight in the yard", "lx", "level", 30, tuple(
            Point(clock.at(60 * i), round(float(weather.daylight_lx[i]), 0)) for i in ten
        )),
    )  # fmt: skip


def imagine_glasshouse(plan: Plan) -> Scene:
    """The glasshouse as it truly goes, before any mote listens."""
    local = ZoneInfo(TIME_ZONE)
    starts_at = datetime.combine(plan.first_date, time(), local).astimezone(UTC)
    ends_at = datetime.combine(plan.first_date + timedelta(days=plan.days), time(), local).astimezone(UTC)
    clock = Clock(starts_at, ends_at, TIME_ZONE)
    events = make_rounds(plan)
    weather = invent_weather(plan.seed, clock)
    rng = draw(plan.seed, "glass")
    rows, steps = len(ZONES), clock.minutes
    sun = weather.daylight_lx / 46_000
    warmed = weather.temperature_c + 2 + 13 * follow(sun[None, :], SUN_MIN)
    vents = follow(during(events, "vent", clock), VENT_MIN)
    temperature = (
        warmed - vents * 0.6 * (warmed - weather.temperature_c) + wander(rng, rows, steps, 0.98, 0.15)
    )
    mist = follow(during(events, "misting", clock), 5.0)
    vapour = weather.vapour_hpa + (1 - 0.7 * vents) * (2.5 + 4 * follow(sun[None, :], 30.0)) + 6 * mist
    humidity = np.clip(
        100 * vapour / saturation_hpa(temperature) + wander(rng, rows, steps, 0.98, 0.4), 15, 98
    )
    watering = during(events, "irrigation", clock)
    lit = 0.7 * weather.daylight_lx[None, :] * rng.uniform(0.8, 1.1, rows)[:, None]
    return Scene(
        title="Glasshouse",
        clock=clock,
        burst_period_s=60.0,
        levels=LEVELS,
        baseline=("03:00", "05:00"),
        open_hours=("06:00", "21:00"),
        zones=ZONES,
        measures=MEASURES,
        kits=KITS,
        gateway_places=("under the potting bench",),
        events=events,
        streams=watch_outside(plan.seed, weather, clock),
        world={
            "temperature": temperature,
            "relative_humidity": humidity,
            "soil_moisture": soil_course(plan.seed, watering, sun),
            "light": lit,
        },
        people=None,
        drivers={
            "daylight": np.broadcast_to(weather.daylight_lx, (rows, steps)).copy(),
            "irrigation": watering,
            "vent": during(events, "vent", clock),
        },
        delays_min={"temperature": SUN_MIN, "vent": VENT_MIN, "soil_moisture": SOAK_MIN},
    )
