"""What one look of the watch leaves for the next, as it lies in the lake."""

import json
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime

from motelake.core.alarms import Alarm
from motelake.core.instants import format_instant, parse_instant
from motelake.core.memory import Memory
from motelake.lake.store import Lake

STATE_FILE = "watch/state.json"


@dataclass(frozen=True)
class State:
    """What one look leaves for the next.

    looks: those of the last minutes, and up to when had been delivered by then; unjudged: manifests without
    a verdict; held: objects that the gate holds, by name; batteries: of motes whose battery will not last.
    """

    through: int = 0
    memory: Memory = field(default_factory=Memory)
    alarms: tuple[Alarm, ...] = ()
    looks: tuple[tuple[datetime, float], ...] = ()
    judged_with: str = ""
    unjudged: tuple[str, ...] = ()
    held: Mapping[str, str] = field(default_factory=dict)
    batteries: Mapping[str, str] = field(default_factory=dict)
    batteries_at: datetime | None = None


def read_state(lake: Lake) -> State:
    """What the last look left; as before the first one where there is nothing, or it is damaged."""
    try:
        record = json.loads(lake.read(STATE_FILE))
        return State(**record | {
            "memory": Memory.from_dict(record["memory"]),
            "alarms": tuple(Alarm.from_dict(one) for one in record["alarms"]),
            "looks": tuple((parse_instant(at), latest) for at, latest in record["looks"]),
            "unjudged": tuple(record["unjudged"]),
            "batteries_at": record["batteries_at"] and parse_instant(record["batteries_at"]),
        })  # fmt: skip
    except (FileNotFoundError, ValueError, KeyError, TypeError):
        return State()


def write_state(lake: Lake, state: State) -> None:
    """Puts the state in place of the one before."""
    record = {
        "through": state.through,
        "memory": state.memory.to_dict(),
        "alarms": [alarm.to_dict() for alarm in state.alarms],
        "looks": [[format_instant(at), latest] for at, latest in state.looks],
        "judged_with": state.judged_with,
        "unjudged": state.unjudged,
        "held": dict(state.held),
        "batteries": dict(state.batteries),
        "batteries_at": state.batteries_at and format_instant(state.batteries_at),
    }
    lake.write(STATE_FILE, json.dumps(record, separators=(",", ":")).encode())
