"""What a rehearsal is asked to invent: how large, how long, and how much goes wrong."""

from dataclasses import asdict, dataclass, field, fields
from datetime import date, datetime
from typing import Any

from motelake.errors import InputError

SHARES = (
    "loss_share", "slow_share", "resent_share", "overheard_share", "damaged_share", "extra_field_share",
)  # fmt: skip
SCENES = ("depot_fair", "glasshouse")


@dataclass(frozen=True)
class Faults:
    """How much goes wrong; rates are shares, numbers are for the whole lake unless they say otherwise.

    A number of None means: as many as a lake of this size would see.
    """

    loss_share: float = 0.05
    loss_run: float = 3.0  # bursts are lost in clusters of this mean length
    delay_mean_s: float = 0.4
    slow_share: float = 0.02  # of bursts that need another 2 to 9 s
    slow_from_s: float = 2.0
    slow_to_s: float = 9.0
    resent_share: float = 0.01
    overheard_share: float = 0.02  # heard by a second gateway as well
    drift_ppm: float = 50.0  # clocks differ by up to this much, either way
    restarts_per_day: float = 10.0  # of the whole fleet
    gateway_deaths: int | None = None
    gateway_flushes: int | None = None
    flush_min: float = 40.0
    power_cuts: int | None = None  # a zone loses its mains for a while
    mote_incidents: float = 1.0  # times the usual number of unplugged, moved, stuck ... motes
    unregistered_motes: int | None = None
    damaged_share: float = 0.003
    garbage_objects: int = 1  # raw objects of which a third is damaged
    extra_field_share: float = 0.0005  # of lines that carry a field nobody registered
    redelivered_objects: int = 1  # raw objects of which a part is delivered again

    @classmethod
    def none(cls) -> "Faults":
        """No faults at all; only the radio's short delay stays."""
        zero: dict[str, Any] = {
            item.name: 0 for item in fields(cls) if item.name not in ("loss_run", "delay_mean_s", "flush_min")
        }
        return cls(**zero)


@dataclass(frozen=True)
class Plan:
    """A rehearsal: the same plan always gives the same bytes.

    burst_period_s: None takes the scene's own period. networks: None makes about one for 25 motes.
    delivery_min: minutes of one raw object; a divisor of 60.
    objects_from, objects_to: write only raw objects that begin in this half-open span (None: all of them),
    so that an operation can be rehearsed delivery by delivery; what they hold does not change.
    """

    scene: str = "depot_fair"
    motes: int = 40
    days: int = 2
    seed: int = 1
    first_date: date = date(2031, 5, 9)
    burst_period_s: float | None = None
    networks: int | None = None
    delivery_min: int = 60
    objects_from: datetime | None = None
    objects_to: datetime | None = None
    compression_level: int = 4
    faults: Faults = field(default_factory=Faults)

    def __post_init__(self) -> None:
        """Refuse what cannot be rehearsed, by name."""
        problems = [
            (self.scene not in SCENES, f"scene is {self.scene!r}; known: {', '.join(SCENES)}"),
            (not 1 <= self.motes <= 20_000, f"motes is {self.motes}; give 1 to 20000"),
            (not 1 <= self.days <= 60, f"days is {self.days}; give 1 to 60"),
            (self.seed < 0, f"seed is {self.seed}; give 0 or more"),
            (
                self.burst_period_s is not None and not 1 <= self.burst_period_s <= 900,
                f"burst_period_s is {self.burst_period_s}; give 1 to 900",
            ),
            (
                self.networks is not None and not 1 <= self.networks <= min(self.motes, 999),
                f"networks is {self.networks}; give 1 to {min(self.motes, 999)}",
            ),
            (
                not 1 <= self.delivery_min <= 60 or 60 % self.delivery_min != 0,
                f"delivery_min is {self.delivery_min}; give a divisor of 60",
            ),
            (
                not 1 <= self.compression_level <= 9,
                f"compression_level is {self.compression_level}; give 1 to 9",
            ),
            (
                any(at is not None and at.tzinfo is None for at in (self.objects_from, self.objects_to)),
                "objects_from and objects_to need a time zone",
            ),
        ]
        wrong = [text for is_wrong, text in problems if is_wrong]
        wrong += [
            f"{name} is {getattr(self.faults, name)}; give a share, 0 to 0.9"
            for name in SHARES
            if not 0 <= getattr(self.faults, name) <= 0.9
        ]
        if wrong:
            raise InputError("The rehearsal was refused: " + "; ".join(wrong) + ".")

    def as_json(self) -> dict[str, object]:
        """The plan as plain values."""
        return {
            key: value.isoformat() if isinstance(value, date) else value
            for key, value in asdict(self).items()
        }
