"""What an operator decided about a held raw object; kept in the lake, so that a rebuild remembers it."""

import json
from collections.abc import Iterable
from dataclasses import asdict, dataclass
from datetime import datetime
from typing import Literal, get_args

from motelake.core.instants import format_instant, parse_instant
from motelake.errors import InputError, UnknownNameError

Choice = Literal["admit", "discard"]


@dataclass(frozen=True)
class Decision:
    """One decision; it holds for the bytes with this sha256, under whatever name they lie."""

    object: str
    sha256: str
    decision: Choice
    decided_at: datetime
    note: str | None = None

    def to_json(self) -> bytes:
        """The bytes of the decision's file."""
        record = asdict(self) | {"decided_at": format_instant(self.decided_at)}
        return (json.dumps(record, indent=1, sort_keys=True) + "\n").encode()

    @classmethod
    def from_json(cls, data: bytes, name: str) -> "Decision":
        """The decision in a file; InputError naming the file where it is damaged."""
        try:
            record = json.loads(data)
            if record["decision"] not in get_args(Choice):
                raise ValueError(f"decision is {record['decision']!r}")
            return cls(**record | {"decided_at": parse_instant(record["decided_at"])})
        except (ValueError, KeyError, TypeError) as error:
            raise InputError(f"{name} is no decision ({error!r}). Remove it and decide again.") from error


def decision_name(sha256: str) -> str:
    """Where the decision about the object with this hash lies in the lake."""
    return f"decisions/{sha256[:32]}.json"


def find_object(wanted: str, names: Iterable[str]) -> str:
    """The one raw object that is named so, in full or by the end of its name.

    An end counts from a slash on: G03/07.jsonl finds raw/G03/07.jsonl, not raw/XG03/07.jsonl. Raises
    UnknownNameError where there is none, InputError where there are several.
    """
    names = sorted(set(names))
    if wanted in names:
        return wanted
    ending = "/" + wanted.strip("/")
    found = [name for name in names if name.endswith(ending)]
    if not found:
        raise UnknownNameError("raw object", wanted, names)
    if len(found) > 1:
        listed = ", ".join(found[:5]) + (", ..." if len(found) > 5 else "")
        raise InputError(
            f"{wanted!r} may be any of {len(found)} raw objects: {listed}. Give more of its name."
        )
    return found[0]
