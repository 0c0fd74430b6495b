"""The campaign as pictures need it: its clocks, storeys, zones, measures, programme and work so far."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, time, timedelta
from functools import cached_property
from typing import Any
from zoneinfo import ZoneInfo

from motelake.page import words

_COUNTED = ("count", "total")
# None stands for measures without a role, such as those of gases.
_ROLES = ("crowd", "sound", None, "temperature", "relative_humidity", "light", "air_pressure")

Select = Callable[[str], Sequence[Mapping[str, Any]]]


@dataclass(frozen=True)
class Event:
    """An event of the programme; no zones: the whole venue."""

    event: str
    title: str
    kind: str
    zones: tuple[str, ...]
    starts_at: datetime
    ends_at: datetime


@dataclass(frozen=True)
class Zone:
    """A zone with where it is drawn."""

    zone: str
    title: str
    level: str | None
    x_m: float | None
    y_m: float | None


@dataclass(frozen=True)
class Gateway:
    """A gateway with where it is."""

    gateway: str
    network: str | None
    zone: str | None


@dataclass(frozen=True)
class Measure:
    """A measure with the words for it."""

    measure: str
    title: str
    unit: str | None
    kind: str
    role: str | None


@dataclass(frozen=True)
class Work:
    """What became of what was delivered: raw objects by state, and lines."""

    objects: Mapping[str, int]
    read: int = 0
    rejected: int = 0


@dataclass(frozen=True)
class Scene:
    """All that is not an answer; levels run from the lowest to the highest."""

    title: str
    time_zone: ZoneInfo
    starts_at: datetime
    ends_at: datetime
    data_from: datetime | None
    data_to: datetime | None
    open_from: time | None
    open_to: time | None
    has_baseline: bool
    levels: tuple[str, ...]
    zones: Mapping[str, Zone]
    measures: Mapping[str, Measure]
    events: tuple[Event, ...]
    gateways: tuple[Gateway, ...] = ()
    work: Work = Work({})
    snapshot: str = ""
    made_at: datetime | None = None

    @cached_property
    def shown_from(self) -> datetime:
        """Where the pictures' time begins: the start, or the first burst where that is a day later."""
        if self.data_from and self.data_from - self.starts_at > timedelta(days=1):
            return self.data_from.replace(minute=0, second=0, microsecond=0)
        return self.starts_at

    @cached_property
    def shown_to(self) -> datetime:
        """Where the pictures' time ends: with the last burst, or the campaign."""
        end = self.data_to or self.ends_at
        whole = end.replace(minute=0, second=0, microsecond=0) + timedelta(hours=1)
        return max(min(whole, self.ends_at), self.shown_from + timedelta(hours=1))

    def hours(self, at: datetime) -> float:
        """A time as hours since the pictures' time begins."""
        return (at - self.shown_from).total_seconds() / 3600

    def place(self, zone: str | None) -> str:
        """What people call a zone."""
        if not zone:
            return "the whole venue"
        known = self.zones.get(zone)
        return words.name(known.title if known and known.title else zone)

    def measure_title(self, measure: str) -> str:
        """What people call a measure."""
        known = self.measures.get(measure)
        return words.name(known.title if known and known.title else measure)

    def unit(self, measure: str) -> str | None:
        """The unit of a measure, as the register has it; how many there are at once has none."""
        known = self.measures.get(measure)
        if known is None or (known.unit == "count" and known.kind not in _COUNTED):
            return None
        return known.unit

    def rank(self, measure: str) -> tuple[int, str]:
        """Sorts measures: those that tell of people first, then the air, daylight and the network last."""
        known = self.measures.get(measure)
        if known is None or known.unit == "dBm" or known.role not in _ROLES:
            return (len(_ROLES), measure)
        return (_ROLES.index(known.role), measure)

    def zones_downwards(self) -> list[str]:
        """The zones from the highest storey to the lowest, by title within one."""
        rank = {level: number for number, level in enumerate(self.levels)}
        ordered = sorted(self.zones.values(), key=lambda zone: (-rank.get(zone.level or "", -1), zone.title))
        return [zone.zone for zone in ordered]

    def closed_hours(self) -> list[tuple[float, float]]:
        """The stretches outside opening hours, as hours since the pictures' time begins."""
        if self.open_from is None or self.open_to is None:
            return []
        found: list[tuple[float, float]] = []
        cursor = self.shown_from
        date = self.shown_from.astimezone(self.time_zone).date()
        while cursor < self.shown_to:
            opens = datetime.combine(date, self.open_from, self.time_zone).astimezone(UTC)
            closes = datetime.combine(date, self.open_to, self.time_zone).astimezone(UTC)
            if closes <= opens:
                closes += timedelta(days=1)
            if opens > cursor:
                found.append((self.hours(cursor), self.hours(min(opens, self.shown_to))))
            cursor = max(cursor, closes)
            date += timedelta(days=1)
        return found

    @property
    def beside_time(self) -> str:
        """What else stands in a picture along the campaign's clocks, in words."""
        parts = [
            *(["Shaded: closed."] if self.closed_hours() else []),
            *(["Below: the programme."] if self.events else []),
        ]
        return " ".join(parts)

    def nearest_event(self, zone: str | None, start: datetime, end: datetime) -> tuple[Event, str] | None:
        """The event nearest to a stretch of time, within an hour, in the zone first, and how they lie."""
        best: tuple[float, Event, str] | None = None
        for event in self.events:
            is_here = zone is None or zone in event.zones
            if not is_here and event.zones:
                continue
            gap = max((event.starts_at - end).total_seconds(), (start - event.ends_at).total_seconds(), 0)
            if gap > 3600:
                continue
            how = "during" if gap == 0 else "before" if event.starts_at >= end else "after"
            cost = gap + (0 if is_here else 1800)
            if best is None or cost < best[0]:
                best = (cost, event, how)
        return (best[1], best[2]) if best else None


def read_scene(select: Select, snapshot: str = "", made_at: datetime | None = None) -> Scene | None:
    """The scene of what is published; None where there is no campaign yet.

    select runs a statement and gives its rows by column.
    """
    campaigns = select("select * from campaign")
    if not campaigns:
        return None
    campaign = campaigns[0]
    bounds = select("select min(minute_at) as first, max(minute_at) as last from mote_minute")[0]
    return Scene(
        title=words.name(campaign["title"], 120),
        time_zone=ZoneInfo(campaign["time_zone"]),
        starts_at=campaign["starts_at"],
        ends_at=campaign["ends_at"],
        data_from=bounds["first"],
        data_to=bounds["last"],
        open_from=campaign["open_from"],
        open_to=campaign["open_to"],
        has_baseline=campaign["baseline_from"] is not None,
        levels=tuple(row["level"] for row in select("select level from level order by height_m, level")),
        zones={
            row["zone"]: Zone(row["zone"], row["title"] or row["zone"], row["level"], row["x_m"], row["y_m"])
            for row in select("select * from zone")
        },
        measures={
            row["measure"]: Measure(
                row["measure"], row["title"] or row["measure"], row["unit"], row["kind"], row["role"]
            )
            for row in select("select * from measure order by measure")
        },
        events=tuple(
            Event(
                row["event"],
                words.name(row["title"] or row["event"]),
                row["kind"] or "",
                tuple((row["zone"] or "").split("+")) if row["zone"] else (),
                row["starts_at"],
                row["ends_at"] or row["starts_at"],
            )
            for row in select("select * from programme_event order by starts_at, event")
        ),
        gateways=tuple(
            Gateway(row["gateway"], row["network"], row["zone"])
            for row in select("select gateway, network, zone from gateway order by gateway")
        ),
        work=_read_work(select),
        snapshot=snapshot,
        made_at=made_at,
    )


def _read_work(select: Select) -> Work:
    rows = select(
        "select state, count(*) as objects, sum(read)::bigint as read, sum(rejected)::bigint as rejected "
        "from raw_object group by state order by state"
    )
    return Work(
        {row["state"]: row["objects"] for row in rows},
        sum(row["read"] for row in rows),
        sum(row["rejected"] for row in rows),
    )
