"""Sections and figures: what the page is made of before it is HTML."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field

from motelake.page.answers import Answer, Missed, Row
from motelake.page.drawing import Chart, Frame
from motelake.page.scene import Scene

Draw = Callable[[Answer, Scene, Frame], Chart | None]

MOST_TABLE_ROWS = 64


@dataclass(frozen=True)
class Figure:
    """One picture with all that stands beside it.

    name is what it is called among those to choose from; says tells in words what there is to see; draw makes
    the picture of the answer; rows are those of the table, in columns, and calls the commands that give them,
    by default those of the answer.
    """

    name: str
    says: str
    answer: Answer
    draw: Draw
    reading: str = ""
    columns: Sequence[str] = ()
    rows: Sequence[Row] | None = None
    calls: Sequence[str] = ()

    @property
    def table(self) -> tuple[Sequence[str], Sequence[Row], int]:
        """The columns and rows of the table, and how many rows there are in all."""
        rows = self.answer.rows if self.rows is None else self.rows
        columns = self.columns or (list(rows[0]) if rows else [])
        return columns, rows[:MOST_TABLE_ROWS], len(rows)


@dataclass(frozen=True)
class Section:
    """A question, its answer in a sentence, what to add, and the pictures it rests on.

    lately is what happened last, for the head of the page; missed are the questions that it would also rest
    on and that got no answer; failure is why there is no section where it could not be told.
    """

    key: str
    question: str
    answer: str
    more: Sequence[str] = ()
    figures: Sequence[Figure] = ()
    choose: str = ""
    points: Sequence["Point"] = ()
    caution: str = ""
    lately: str = ""
    missed: Sequence[Missed] = ()
    failure: str = ""


@dataclass(frozen=True)
class Point:
    """A line of a list: a few words in front, a sentence, and the call it rests on."""

    head: str
    text: str
    call: str = ""
    way: str = ""


@dataclass(frozen=True)
class Story:
    """The page: its title, its first sentences, what to be careful about, and its sections in order."""

    title: str
    when: str
    opening: Sequence[str]
    sections: Sequence[Section]
    caution: str = ""
    facts: Mapping[str, str] = field(default_factory=dict)
