"""The agenda of the Depot Fair: two kinds of day, so that the same hour of another day can be quiet."""

from datetime import date, datetime, time, timedelta, timezone
from zoneinfo import ZoneInfo

from motelake.rehearsal.venue import Event, Zone

# kind, title, kind of zone, starts, minutes
Slot = tuple[str, str, str, str, int]

EVEN_DAY: tuple[Slot, ...] = (
    ("talk", "Keeping beans true to type", "talk", "10:00", 45),
    ("workshop", "Sharpening hand tools", "workshop", "10:30", 90),
    ("exchange", "The big seed swap", "exchange", "11:30", 75),
    ("talk", "What a depot roof can grow", "talk", "13:30", 40),
    ("workshop", "Baskets from willow", "workshop", "14:00", 90),
    ("tour", "Round the roof beds", "garden", "15:00", 30),
    ("talk", "Soil you can hear", "talk", "16:00", 45),
    ("concert", "Brass in the pit", "stage", "17:30", 70),
    ("exchange", "Late swap: bulbs and tubers", "exchange", "18:00", 45),
    ("concert", "Lantern strings", "stage", "19:40", 50),
)
ODD_DAY: tuple[Slot, ...] = (
    ("workshop", "Grafting by hand", "workshop", "09:40", 80),
    ("exchange", "Morning swap: grains and flowers", "exchange", "10:20", 60),
    ("talk", "Reading a seed packet", "talk", "11:15", 40),
    ("concert", "Noon choir", "stage", "12:20", 40),
    ("tour", "Bees above the tracks", "garden", "13:20", 35),
    ("talk", "A hundred years of turnips", "talk", "14:45", 45),
    ("workshop", "Mending a rake", "workshop", "16:00", 75),
    ("exchange", "Last swap: everything must go", "exchange", "16:30", 60),
    ("concert", "Drums and rails", "stage", "18:40", 75),
)
WHOLE_VENUE: tuple[tuple[str, str, str, int], ...] = (
    ("announcement", "Opening bell", "09:05", 10),
    ("announcement", "Closing bell", "20:50", 10),
)
MORE_WORKSHOPS = ("Dyeing with onion skins", "Spoons from green wood", "Paper from stalks", "Pickling roots")
MORE_TALKS = ("Weeds worth keeping", "Water from fog", "Old orchards", "How a carrot finds its way")


def make_agenda(zones: tuple[Zone, ...], first_date: date, days: int, time_zone: str) -> tuple[Event, ...]:
    """All events of the fair, in order of their start."""
    local = ZoneInfo(time_zone)
    by_kind: dict[str, list[str]] = {}
    for zone in zones:
        by_kind.setdefault(zone.kind, []).append(zone.zone)
    found: list[tuple[datetime, int, str, str, tuple[str, ...]]] = []

    def add(on: date, starts: str, minutes: int, kind: str, title: str, where: tuple[str, ...]) -> None:
        begins = datetime.combine(on, time.fromisoformat(starts), local).astimezone(timezone.utc)
        found.append((begins, minutes, kind, title, where))

    for number in range(days):
        on = first_date + timedelta(days=number)
        slots = EVEN_DAY if number % 2 == 0 else ODD_DAY
        for position, (kind, title, place, starts, minutes) in enumerate(slots):
            rooms = by_kind.get(place, [zone.zone for zone in zones])
            # Later days begin a little later, so that no day repeats another to the minute.
            later = (
                datetime.combine(on, time.fromisoformat(starts)) + timedelta(minutes=20 * (number // 2))
            ).time()
            where = (rooms[(position + number) % len(rooms)],)
            if kind == "exchange" and len(rooms) > 1:
                where = tuple(rooms[:2])
            add(on, later.isoformat("minutes"), minutes, kind, title, where)
        for kind, title, starts, minutes in WHOLE_VENUE:
            add(on, starts, minutes, kind, title, ())
        for extra in range(max(0, (len(zones) - 16) // 4)):
            kind, titles = ("workshop", MORE_WORKSHOPS) if extra % 2 else ("talk", MORE_TALKS)
            rooms = by_kind.get("hall", [zone.zone for zone in zones])
            starts = f"{10 + (extra * 2 + number * 3) % 9:02d}:{(extra * 17) % 60:02d}"
            title = titles[(extra // 2 + number) % len(titles)]
            add(on, starts, 45, kind, title, (rooms[(extra * 3 + number) % len(rooms)],))
    found.sort(key=lambda item: (item[0], item[2], item[4]))
    return tuple(
        Event(f"E{i:03d}", title, kind, where, begins, begins + timedelta(minutes=minutes))
        for i, (begins, minutes, kind, title, where) in enumerate(found, 1)
    )
