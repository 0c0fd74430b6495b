"""What the page asks, and what it was answered."""

import shlex
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, Protocol

Row = Mapping[str, Any]


@dataclass(frozen=True)
class Answer:
    """The rows that a question of the library gave, and what is said about it."""

    view: str
    rows: Sequence[Row]
    given: Mapping[str, str] = field(default_factory=dict)
    units: Mapping[str, str] = field(default_factory=dict)
    question: str = ""
    misleads: str = ""

    @property
    def call(self) -> str:
        """The command that gives the same rows."""
        parts = [self.view, *(f"{name}={value}" for name, value in self.given.items())]
        return "motelake show LAKE " + " ".join(shlex.quote(part) for part in parts)


@dataclass(frozen=True)
class Missed:
    """A question that got no answer here: the command that asks it, and why."""

    call: str
    why: str


class Ask(Protocol):
    """Asks a question with parameters as text.

    None where the library has no such question or cannot answer it; missed then tells which, and why, where
    it could be answered elsewhere.
    """

    missed: list[Missed]

    def __call__(self, view: str, given: Mapping[str, str]) -> Answer | None:
        """The answer to a question of the library."""
        ...
