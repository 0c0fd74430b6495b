"""The agenda of the Depot Fair: two kinds of day, so that the same hour of another day can be quiet."""

from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
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


@dataclass(frozen=True)
class Entry:
    """Something on the agenda of one day, before it has a number."""

    kind: str
    title: str
    starts: time
    minutes: int
    zones: tuple[str, ...] = ()


def entries_of_day(number: int, zones: tuple[Zone, ...]) -> list[Entry]:
    """What is on on the fair's nth day (from 0)."""
    by_kind: dict[str, list[str]] = {}
    for zone in zones:
        by_kind.setdefault(zone.kind, []).append(zone.zone)
    everywhere = [zone.zone for zone in zones]
    found = [
        Entry(kind, title, time.fromisoformat(starts), minutes)
        for kind, title, starts, minutes in WHOLE_VENUE
    ]
    for position, (kind, title, place, starts, minutes) in enumerate(
        EVEN_DAY if number % 2 == 0 else ODD_DAY
    ):
        rooms = by_kind.get(place, everywhere)
        first = (position + number) % len(rooms)
        where = tuple(rooms[:2]) if kind == "exchange" else (rooms[first],)
        # Later days begin a little later, so that no day repeats another to the minute.
        later = datetime.combine(date.min, time.fromisoformat(starts)) + timedelta(
            minutes=20 * (number // 2 % 3)
        )
        found.append(Entry(kind, title, later.time(), minutes, where))
    for extra in range(max(0, (len(zones) - 16) // 4)):
        kind, titles = ("workshop", MORE_WORKSHOPS) if extra % 2 else ("talk", MORE_TALKS)
        rooms = by_kind.get("hall", everywhere)
        begins = time(10 + (extra * 2 + number * 3) % 9, extra * 17 % 60)
        title = titles[(extra // 2 + number) % len(titles)]
        found.append(Entry(kind, title, begins, 45, (rooms[(extra * 3 + number) % len(rooms)],)))
    return found


def make_agenda(zones: tuple[Zone, ...], first_date: date, days: int, time_zone: str) -> tuple[Event, ...]:
    """All events of the fair, in order of their start."""
    local = ZoneInfo(time_zone)
    found = []
    for number in range(days):
        on = first_date + timedelta(days=number)
        for entry in entries_of_day(number, zones):
            found.append((datetime.combine(on, entry.starts, local).astimezone(UTC), entry))
    found.sort(key=lambda item: (item[0], item[1].kind, item[1].zones))
    return tuple(
        Event(f"E{i:03d}", entry.title, entry.kind, entry.zones, at, at + timedelta(minutes=entry.minutes))
        for i, (at, entry) in enumerate(found, 1)
    )
