"""Sentences for people: who hears them, and words that they share."""

from collections.abc import Callable

Say = Callable[[str], None]
"""Takes a sentence of progress, or a notice, to whoever listens."""


def counted(number: int, one: str, several: str | None = None) -> str:
    """A number with its noun."""
    return f"{number:,} {one if number == 1 else several or one + 's'}"
