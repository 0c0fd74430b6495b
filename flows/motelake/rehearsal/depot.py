"""The former tram depot: its levels and rooms, and the motes' kits for the fair."""

from motelake.rehearsal.venue import Measure, Zone

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
    "behind the ticket counter", "inside the old fuse box", "under the stage steps", "on the shelf of jars",
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
            20, 125, 22, 118, 50, 60, 0.5, 1, 1.2, 1.3),
    Measure("light", "Illuminance", "lx", "level", "light",
            0, 88000, 0, 80000, None, None, 1, 0, 0, 0.02, 0.08, True),
    Measure("footsteps", "Footsteps felt in the floor", "count", "count", "crowd",
            0, 2000, 0, 800, None, None, 1, 0, 0, 0, 0.2),
    Measure("radio", "Foreign radio level", "dBm", "decibel", "",
            -110, 0, -105, -30, 22, 60, 1, 0, 2.0, 1.6),
    Measure("air_quality", "Carbon dioxide", "ppm", "level", "",
            0, 10000, 300, 6000, 450, 60, 1, 0, 25, 9),
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
