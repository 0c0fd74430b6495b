"""The plan of a campaign: what campaign.toml says, without the register."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, time


@dataclass(frozen=True, slots=True)
class LocalHours:
    """Hours of the campaign's wall clock, [from_time, to_time); to before from reaches into the next day."""

    from_time: time
    to_time: time


@dataclass(frozen=True, slots=True)
class Limits:
    """What is still accepted, and how work is grouped; each field is a key of [limits]."""

    bytes_per_object: int = 2**30
    """Bytes of one raw object after decompression."""
    bytes_per_line: int = 65_536
    """Bytes of one line."""
    reject_share: float = 0.2
    """Share of rejected lines above which a raw object is held."""
    unknown_mote_share: float = 0.2
    """Share of lines from unknown motes above which a raw object is held."""
    outside_span_share: float = 0.2
    """Share of a measure's readings outside its span above which a raw object is held."""
    late_min: float = 120.0
    """Minutes after ends_at in which a delivery is still accepted."""
    batch_objects: int = 256
    """Raw objects in one batch."""
    batch_bytes: int = 64 * 2**20
    """Bytes of one batch as delivered."""


@dataclass(frozen=True, slots=True)
class Plan:
    """The keys of campaign.toml; times are UTC, levels are heights in metres above the lowest."""

    title: str
    time_zone: str
    starts_at: datetime
    ends_at: datetime
    burst_period_s: float
    drift_ppm: float
    levels: Mapping[str, float]
    baseline: LocalHours | None
    open_hours: LocalHours | None
    limits: Limits
