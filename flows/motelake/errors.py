"""Every error motelake raises on purpose.

MotelakeError
├── InputError                 exit code 2: the call, or what it was given, is wrong
│   ├── CampaignError          campaign.toml, register/, programme/ or context/ hold mistakes
│   ├── UnknownNameError       a name that is not in a closed list, with the nearest match
│   ├── UnknownFormatError     a raw object whose name ends in no known format
│   ├── ChangedObjectError     a raw object is not what it was when it was staged
│   ├── QueryError             SQL or a parameter of a question was refused
│   └── LibraryError           what stands under sql/ is not a library of views
└── SurroundingsError          exit code 3: store, disk, lock or network; worth a retry
    ├── StoreError             the lake's storage failed or timed out
    │   ├── StoreRefusedError  the store refused who asked; not worth a retry
    │   └── NotPermittedError  this user may not touch one object; not worth a retry
    ├── LockedError            another process is writing to the same warehouse
    └── DamagedError           the warehouse file cannot be read; not worth a retry
"""

from collections.abc import Iterable, Sequence
from difflib import get_close_matches


def did_you_mean(name: str, known: Iterable[str]) -> str:
    """A question that goes behind a sentence, with the known name nearest to a wrong one; empty without."""
    nearest = get_close_matches(name, list(known), n=1, cutoff=0.5)
    return f" Did you mean {nearest[0]!r}?" if nearest else ""


class MotelakeError(Exception):
    """An error with a sentence for people and an exit code for programs."""

    exit_code = 1
    is_worth_a_retry = False


class InputError(MotelakeError):
    """What was asked, or what was delivered, cannot be used as it is."""

    exit_code = 2


class CampaignError(InputError):
    """All mistakes of a campaign's files, one sentence each."""

    def __init__(self, problems: Sequence[str]) -> None:
        self.problems = list(problems)
        noun = "mistake" if len(self.problems) == 1 else "mistakes"
        super().__init__(
            f"{len(self.problems)} {noun} in the campaign's files; nothing was done:\n"
            + "\n".join(f"  {problem}" for problem in self.problems)
        )


class UnknownNameError(InputError):
    """A name that is not one of those known, with what is known and the nearest match."""

    def __init__(self, kind: str, name: str, known: Iterable[str]) -> None:
        self.kind, self.name, self.known = kind, name, sorted(known)
        listed = ", ".join(self.known[:40]) or "none"
        super().__init__(f"There is no {kind} {name!r}.{did_you_mean(name, self.known)} Known: {listed}.")


class UnknownFormatError(InputError):
    """A raw object whose name ends in no known format."""

    def __init__(self, name: str, endings: Iterable[str]) -> None:
        self.name = name
        super().__init__(
            f"{name} was refused: its name ends in none of {', '.join(endings)}. "
            "Rename it or take it out of raw/."
        )


class ChangedObjectError(InputError):
    """A raw object that no longer is what was staged; raw objects never change."""

    def __init__(self, name: str, then: str, now: str) -> None:
        self.name = name
        super().__init__(
            f"{name} was refused: it changed after it was staged ({then} then, {now} now). "
            "Raw objects never change: put the old one back, or deliver the new one under another name."
        )


class QueryError(InputError):
    """SQL or a parameter that was refused, with the reason."""


class LibraryError(InputError):
    """What stands under sql/ is missing, badly described or goes round in a ring."""


class SurroundingsError(MotelakeError):
    """A fault outside motelake that may be gone at the next try."""

    exit_code = 3
    is_worth_a_retry = True


class StoreError(SurroundingsError):
    """The lake's storage failed."""


class StoreRefusedError(StoreError):
    """The store refused the credentials, or the clock, of whoever asked: a retry is refused as well."""

    is_worth_a_retry = False


class NotPermittedError(StoreError):
    """This user may not read or write one object of the lake, whatever holds for others; nor at a retry."""

    is_worth_a_retry = False


class LockedError(SurroundingsError):
    """Another process holds the warehouse."""


class DamagedError(SurroundingsError):
    """The warehouse file is damaged, or none that this DuckDB reads: so it will be at the next try."""

    is_worth_a_retry = False
