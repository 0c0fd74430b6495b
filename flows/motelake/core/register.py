"""The register: motes, gateways, zones, measures and placements, one record a row of their files.

Fields are the columns of the files; an empty cell is None. Times are UTC.
"""

from dataclasses import dataclass
from datetime import datetime

MEASURE_KINDS = ("level", "decibel", "count", "ratio", "total")
ROLES = ("crowd", "air_pressure", "temperature", "relative_humidity", "sound", "light")
POWERS = ("mains", "battery")
PLACEMENT_HOWS = ("planned", "installed", "moved", "removed", "found")


@dataclass(frozen=True, slots=True)
class Mote:
    """A sensor node; `kit` is the measures it carries, joined by +."""

    mote: str
    network: str | None
    kit: str
    level: str | None
    zone: str | None
    x_m: float | None
    y_m: float | None
    power: str | None
    installed_at: datetime | None
    removed_at: datetime | None
    note: str | None
    burst_period_s: float | None = None

    @property
    def measures(self) -> tuple[str, ...]:
        """The names of the measures in the kit."""
        return tuple(self.kit.split("+"))


@dataclass(frozen=True, slots=True)
class Gateway:
    """The node that joins a network to the collector; `hidden_at` tells in words where it is hidden."""

    gateway: str
    network: str
    level: str | None
    zone: str | None
    x_m: float | None
    y_m: float | None
    hidden_at: str | None
    note: str | None


@dataclass(frozen=True, slots=True)
class Zone:
    """A named area of the building on one level."""

    zone: str
    level: str
    title: str | None
    kind: str | None
    area_m2: float | None
    x_m: float | None
    y_m: float | None


@dataclass(frozen=True, slots=True)
class Measure:
    """A quantity with its unit, kind and spans; spans and steps are in that unit."""

    measure: str
    title: str | None
    unit: str
    kind: str
    role: str | None
    span_low: float | None
    span_high: float | None
    usual_low: float | None
    usual_high: float | None
    max_step: float | None
    flat_after_min: float | None


@dataclass(frozen=True, slots=True)
class Placement:
    """What was planned for a mote, or seen of it, from one time on."""

    mote: str
    from_at: datetime
    level: str | None
    zone: str | None
    x_m: float | None
    y_m: float | None
    how: str
    note: str | None


@dataclass(frozen=True, slots=True)
class Register:
    """All of register/, in the order of the files."""

    motes: tuple[Mote, ...]
    gateways: tuple[Gateway, ...]
    zones: tuple[Zone, ...]
    measures: tuple[Measure, ...]
    placements: tuple[Placement, ...]
