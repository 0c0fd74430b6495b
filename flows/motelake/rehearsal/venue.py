"""What a scene is made of: places, measures, agenda, context, and the world's true course."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np

from motelake.rehearsal.chance import FloatArray, IntArray


@dataclass(frozen=True)
class Zone:
    """A named area on a level."""

    zone: str
    level: str
    title: str
    kind: str
    area_m2: float
    x_m: float
    y_m: float


@dataclass(frozen=True)
class Measure:
    """A row of the register and the instrument behind it.

    resolution is what the sensor rounds to; offset_spread, gain_spread and noise are standard deviations,
    noise in the unit, or as a share of the value where is_relative.
    """

    measure: str
    title: str
    unit: str
    kind: str
    role: str
    span_low: float
    span_high: float
    usual_low: float
    usual_high: float
    max_step: float | None
    flat_after_min: float | None
    resolution: float
    decimals: int
    offset_spread: float
    noise: float
    gain_spread: float = 0.0
    is_relative: bool = False


@dataclass(frozen=True)
class Event:
    """Something on the agenda; zones is empty for the whole venue."""

    event: str
    title: str
    kind: str
    zones: tuple[str, ...]
    starts_at: datetime
    ends_at: datetime


@dataclass(frozen=True)
class Point:
    """One value or note of a context stream."""

    at: datetime
    value: float | None
    zone: str = ""
    note: str = ""


@dataclass(frozen=True)
class Stream:
    """A series from outside."""

    stream: str
    title: str
    unit: str
    kind: str
    max_age_min: float
    points: tuple[Point, ...]


@dataclass(frozen=True)
class Clock:
    """The campaign's minutes: where they are in the day people live by."""

    starts_at: datetime
    ends_at: datetime
    time_zone: str

    @property
    def seconds(self) -> float:
        """Length of the campaign in seconds."""
        return (self.ends_at - self.starts_at).total_seconds()

    @property
    def minutes(self) -> int:
        """Points of the minute grid, both ends included."""
        return int(self.seconds // 60) + 1

    def local(self) -> tuple[IntArray, FloatArray]:
        """For each minute the local day (0 is the first) and the local hour with its fraction."""
        zone = ZoneInfo(self.time_zone)
        first = self.starts_at.astimezone(zone).date()
        walls = [(self.starts_at + timedelta(minutes=i)).astimezone(zone) for i in range(self.minutes)]
        day = np.array([(wall.date() - first).days for wall in walls], dtype=np.int64)
        hour = np.array([wall.hour + wall.minute / 60 for wall in walls])
        return day, hour

    def second_of(self, at: datetime) -> float:
        """Seconds from the campaign's start."""
        return (at - self.starts_at).total_seconds()

    def at(self, second: float) -> datetime:
        """The time of a second of the campaign, to the whole second."""
        return self.starts_at + timedelta(seconds=round(second))


@dataclass(frozen=True)
class Scene:
    """A place, what is on there, and how it truly goes in each zone and minute.

    world[measure] has shape (zones, minutes): for counts it is events a minute, for all else the value.
    people is None where no crowd comes. drivers are what causes the rest, delays_min its time constants.
    """

    title: str
    clock: Clock
    burst_period_s: float
    levels: Mapping[str, float]
    baseline: tuple[str, str]
    open_hours: tuple[str, str]
    zones: tuple[Zone, ...]
    measures: tuple[Measure, ...]
    kits: tuple[tuple[str, ...], ...]
    gateway_places: tuple[str, ...]
    events: tuple[Event, ...]
    streams: tuple[Stream, ...]
    world: Mapping[str, FloatArray]
    people: FloatArray | None
    drivers: Mapping[str, FloatArray]
    delays_min: Mapping[str, float]
