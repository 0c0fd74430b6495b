"""Lines as they should not be: cut, garbled, foreign, or carrying what nobody registered."""

import json
from dataclasses import dataclass
from typing import Any

import numpy as np

from motelake.rehearsal.chance import FloatArray, IntArray
from motelake.rehearsal.incidents import Incident
from motelake.rehearsal.plan import Faults

# kind of damage, its share, the reason under which the line should be rejected ("" when it stays)
DAMAGES: tuple[tuple[str, float, str], ...] = (
    ("cut", 0.34, "not_json"),
    ("cut_with_badge", 0.04, "not_json"),
    ("noise", 0.12, "not_json"),
    ("not_utf8", 0.03, "not_utf8"),
    ("foreign_mote", 0.14, "unknown_mote"),
    ("no_received_at", 0.10, "no_received_at"),
    ("bad_received_at", 0.03, "bad_received_at"),
    ("before_clock_was_set", 0.02, "outside_campaign"),
    ("no_mote", 0.02, "no_mote"),
    ("list", 0.01, "not_an_object"),
    ("no_readings", 0.01, "no_readings"),
    ("negative_seq", 0.01, "bad_seq"),
    ("text_reading", 0.13, ""),
)
EXTRAS = ("badge_field", "badge_reading", "badge_nested")
KINDS = ("", *(kind for kind, _, _ in DAMAGES), *EXTRAS)
# Reasons that are told before anybody asks whether the mote is known.
BEFORE_THE_MOTE = ("not_json", "not_utf8", "not_an_object", "no_mote")
REASONS = {kind: reason for kind, _, reason in DAMAGES}
GARBAGE_SHARE = 0.35


@dataclass(frozen=True)
class Edited:
    """A damaged line: its bytes, the reading that is text now, the field nobody registered, its badge."""

    line: bytes
    measure: str = ""
    field: str = ""
    badge: str = ""


def choose_damage(
    gateway: IntArray,
    received_s: FloatArray,
    incidents: tuple[Incident, ...],
    faults: Faults,
    rng: np.random.Generator,
) -> IntArray:
    """The kind of damage of each hearing (an index into KINDS, 0 for none)."""
    count = len(gateway)
    share = np.array([share for _, share, _ in DAMAGES])
    dice = rng.random(count)
    pick = 1 + np.searchsorted(np.cumsum(share / share.sum()), rng.random(count), side="right")
    damage = np.where(dice < faults.damaged_share, np.minimum(pick, len(DAMAGES)), 0)
    is_extra = (damage == 0) & (rng.random(count) < faults.extra_field_share)
    damage = np.where(is_extra, 1 + len(DAMAGES) + rng.integers(len(EXTRAS), size=count), damage)
    spoiled = rng.random(count) < GARBAGE_SHARE
    garbage = np.where(rng.random(count) < 0.7, KINDS.index("cut"), KINDS.index("noise"))
    for incident in incidents:
        if incident.kind == "garbage":
            here = (gateway == incident.row) & (received_s >= incident.from_s) & (received_s < incident.to_s)
            damage = np.where(here & spoiled, garbage, damage)
    return damage.astype(np.int64)


def badge_of(salt: int) -> str:
    """An identifier that must appear nowhere outside raw/."""
    return f"BADGE-{salt % 2**32:08x}"


def break_line(line: bytes, kind: str, salt: int) -> Edited | None:
    """A line broken as text, or None where the kind of damage keeps it JSON of one burst."""
    match kind:
        case "cut":
            return Edited(line[: 8 + salt % (len(line) - 12)])
        case "cut_with_badge":
            badge = badge_of(salt)
            return Edited(
                b'{"holder_badge":"%s",%s' % (badge.encode(), line[1 : len(line) // 2]), badge=badge
            )
        case "noise":
            return Edited(b"~" + bytes(33 + (salt >> shift) % 90 for shift in range(24)))
        case "not_utf8":
            middle = len(line) // 2
            return Edited(line[:middle] + b"\xff\xfe" + line[middle:])
        case "list":
            return Edited(b"[%s]" % line)
    return None


def change_burst(burst: dict[str, Any], kind: str, salt: int) -> None:
    """A burst that lacks what it needs, or says it in a way that cannot be used; changed in place."""
    match kind:
        case "foreign_mote":
            burst["mote"] = f"F{salt % 900 + 100}"
        case "no_received_at":
            del burst["received_at"]
        case "bad_received_at":
            burst["received_at"] = burst["received_at"].replace("T", " at ")
        case "before_clock_was_set":
            burst["received_at"] = "1970-01-01T00:00:07.000Z"
        case "no_mote":
            del burst["mote"]
        case "no_readings":
            del burst["readings"]
        case "negative_seq":
            burst["seq"] = -1 - burst["seq"]


def plant(burst: dict[str, Any], kind: str, salt: int) -> str:
    """The name of the unregistered field that a burst was given to carry a badge; changed in place."""
    if kind == "badge_field":
        burst["holder_badge"] = badge_of(salt)
        return "holder_badge"
    if kind == "badge_reading":
        burst["readings"]["nearest_badge"] = badge_of(salt)
        return "nearest_badge"
    burst["debug"] = {"seen": [badge_of(salt)], "heap": salt % 4096}
    return "debug"


def edit(line: bytes, kind: str, salt: int) -> Edited:
    """One whole line (without its line end) with a kind of damage; salt makes the damage repeat."""
    broken = break_line(line, kind, salt)
    if broken is not None:
        return broken
    burst: dict[str, Any] = json.loads(line)
    measure = field = ""
    if kind == "text_reading":
        measure = list(burst["readings"])[salt % len(burst["readings"])]
        burst["readings"][measure] = "n/a"
    elif kind in EXTRAS:
        field = plant(burst, kind, salt)
    else:
        change_burst(burst, kind, salt)
    whole = json.dumps(burst, separators=(",", ":")).encode()
    return Edited(whole, measure, field, badge_of(salt) if field else "")
