"""How a step does many things alike: one after another here, or elsewhere, where a job sends them."""

from collections.abc import Callable, Iterable, Iterator
from typing import Protocol, TypeVar

Item = TypeVar("Item")
Outcome = TypeVar("Outcome")


class Each(Protocol):
    """Does a thing to each item and gives the outcomes in the order of the items, each once it is there.

    What is done may be done twice, by two processes at once, or on another machine: it must not matter.
    """

    def __call__(self, do: Callable[[Item], Outcome], items: Iterable[Item], /) -> Iterator[Outcome]:
        """The outcomes."""
        ...


def in_turn(do: Callable[[Item], Outcome], items: Iterable[Item], /) -> Iterator[Outcome]:
    """One item after another in this process, each only when it is asked for."""
    return map(do, items)
