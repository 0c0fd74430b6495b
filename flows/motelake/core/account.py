"""The account of a lake: every raw object with its state, and what its lines came to."""

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import NamedTuple

from motelake.core.compaction import batches_of
from motelake.core.decisions import Decision
from motelake.core.manifests import Manifest, StagedObject
from motelake.core.verdicts import BatchVerdict

COUNTING = ("loaded", "admitted")


class OnRecord(NamedTuple):
    """What a warehouse or snapshot says of a raw object."""

    batch: int
    state: str
    duplicates: int


@dataclass(frozen=True)
class AccountedObject:
    """A raw object as its latest manifest staged it.

    state: unchecked, passed (to be loaded), loaded, held, admitted, discarded. why: reasons to hold it.
    """

    staged: StagedObject
    batch: int
    state: str
    is_loaded: bool
    duplicates: int
    why: str

    @property
    def awaits_load(self) -> bool:
        """True where the next load takes it in, or out."""
        return self.is_loaded != (self.state in ("passed", *COUNTING))


def account(
    manifests: Sequence[Manifest],
    verdicts: Mapping[str, BatchVerdict],
    decisions: Mapping[str, Decision],
    on_record: Mapping[str, OnRecord],
) -> list[AccountedObject]:
    """Every raw object that was staged, sorted by name.

    verdicts are by manifest id, decisions by sha256, records by name.
    """
    latest: dict[str, tuple[Manifest, StagedObject]] = {}
    for manifest in sorted(manifests, key=lambda manifest: manifest.number):
        for staged in manifest.objects:
            latest[staged.name] = (manifest, staged)
    spoken = {
        (batch.manifest, verdict.object): verdict for batch in verdicts.values() for verdict in batch.objects
    }
    accounted = []
    for name, (manifest, staged) in sorted(latest.items()):
        verdict = spoken.get((manifest.id, name))
        decision = decisions.get(staged.sha256)
        recorded = on_record.get(name)
        is_loaded = recorded is not None and recorded.batch == manifest.number and recorded.state in COUNTING
        if verdict is None:
            state = "unchecked"
        elif verdict.state == "pass":
            state = "loaded" if is_loaded else "passed"
        elif decision is None:
            state = "held"
        else:
            state = "admitted" if decision.decision == "admit" else "discarded"
        accounted.append(
            AccountedObject(
                staged=staged,
                batch=manifest.number,
                state=state,
                is_loaded=is_loaded,
                duplicates=recorded.duplicates if recorded is not None and is_loaded else 0,
                why="; ".join(verdict.reasons) if verdict is not None else "",
            )
        )
    return accounted


def count_lines(objects: Iterable[AccountedObject]) -> dict[str, int]:
    """Lines by what became of them: read = staged + duplicates + rejected."""
    counts = {"read": 0, "staged": 0, "duplicates": 0, "rejected": 0}
    for one in objects:
        lines = one.staged.lines
        counts["read"] += lines.read
        counts["staged"] += lines.parsed - one.duplicates
        counts["duplicates"] += one.duplicates
        counts["rejected"] += lines.rejected
    return counts


def count_batches(manifests: Iterable[Manifest], objects: Iterable[AccountedObject]) -> dict[str, int]:
    """Batches by state: that of all their objects, else in part; superseded where all were staged again."""
    states: dict[int, set[str]] = {manifest.number: set() for manifest in batches_of(manifests)}
    for one in objects:
        states[one.batch].add("loaded" if one.is_loaded else one.state)
    told = Counter(
        "superseded" if not some else some.copy().pop() if len(some) == 1 else "in part"
        for some in states.values()
    )
    return dict(sorted(told.items()))


def sum_by_name(counts: Iterable[Mapping[str, int]]) -> dict[str, int]:
    """Counts added up name by name, the largest first."""
    total: Counter[str] = Counter()
    for some in counts:
        total.update(some)
    return dict(sorted(total.items(), key=lambda item: (-item[1], item[0])))
