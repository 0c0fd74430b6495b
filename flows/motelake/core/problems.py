"""Mistakes found in a campaign's files, gathered so that all are told at once."""

from collections.abc import Iterable

from motelake.core.names import nearest_name
from motelake.errors import CampaignError


class Problems:
    """A growing list of mistakes, each one line that says where, what, and what to do."""

    def __init__(self) -> None:
        self._found: list[tuple[str, int, str]] = []

    def __len__(self) -> int:
        return len(self._found)

    def add(self, file: str, what: str, *, row: int = 0, column: str = "", key: str = "") -> None:
        """Note a mistake of a file, at a row (the line in the file, from 1) and column, or at a key."""
        place = [file]
        if row:
            place.append(f"row {row}")
        if column:
            place.append(f"column {column}")
        if key:
            place.append(f"key {key}")
        self._found.append((file, row, _on_one_line(f"{', '.join(place)}: {what}")))

    def sentences(self) -> list[str]:
        """The mistakes in order of file and row."""
        return [sentence for _, _, sentence in sorted(self._found, key=lambda found: found[:2])]

    def raise_if_any(self) -> None:
        """Raise CampaignError with every mistake, or return where there is none."""
        if self._found:
            raise CampaignError(self.sentences())


def _on_one_line(sentence: str) -> str:
    # What libraries say of a file may quote it, control characters and all.
    return "".join(
        character if character.isprintable() else character.encode("unicode_escape").decode("ascii")
        for character in sentence
    )


def shown(text: str) -> str:
    """A value in quotes, safe to print and cut to a readable length."""
    return repr(text if len(text) <= 60 else text[:57] + "...")


def unknown(name: str, what: str, known: Iterable[str]) -> str:
    """What to say of a name that is not among the known ones."""
    return f"{shown(name)} {what}; {advice(name, known, 'add it there, or correct the name')}"


def advice(name: str, known: Iterable[str], otherwise: str) -> str:
    """What to do about a wrong name: take the nearest known one, or otherwise."""
    nearest = nearest_name(name, known)
    return f"did you mean {nearest!r}?" if nearest else otherwise


def read_utf8(file: str, content: bytes, problems: Problems) -> str | None:
    """The text of a file, without a byte order mark; None, and the mistake noted, where it is no UTF-8."""
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError as mistake:
        row = content.count(b"\n", 0, mistake.start) + 1
        problems.add(file, "is not UTF-8; save the file as UTF-8", row=row)
        return None
