"""Verdicts and decisions as they lie in a lake."""

import json
from collections.abc import Iterable
from dataclasses import asdict, dataclass

from motelake.core.decisions import Decision, decision_name
from motelake.core.verdicts import STATE_NAME, BatchVerdict, verdict_name
from motelake.lake.store import Lake


def read_verdicts(lake: Lake, manifests: Iterable[str]) -> dict[str, BatchVerdict]:
    """The verdicts on these manifests (their ids) by id; those not judged yet are left out."""
    names = {verdict_name(manifest): manifest for manifest in manifests}
    found = lake.read_many(names)
    return {names[name]: BatchVerdict.from_json(data, name) for name, data in found.items()}


def write_verdict(lake: Lake, verdict: BatchVerdict) -> None:
    """Puts the verdicts on one manifest in place of any older ones."""
    lake.write(verdict_name(verdict.manifest), verdict.to_json())


@dataclass(frozen=True)
class JudgedThrough:
    """Up to which manifest (number and id) all are judged, and the hash of what with; number 0 is none."""

    judged_with: str
    number: int
    manifest: str


def read_judged(lake: Lake) -> JudgedThrough:
    """The note of how far the gate has come."""
    try:
        return JudgedThrough(**json.loads(lake.read(STATE_NAME)))
    except (FileNotFoundError, ValueError, TypeError):
        # Without the note every manifest's verdict is looked at, and the note is written again.
        return JudgedThrough("", 0, "")


def write_judged(lake: Lake, judged: JudgedThrough) -> None:
    """Puts the note in place of the one before."""
    lake.write(STATE_NAME, (json.dumps(asdict(judged), sort_keys=True) + "\n").encode())


def read_decisions(lake: Lake) -> dict[str, Decision]:
    """Every decision in the lake, by the sha256 of the object it is about."""
    names = [info.name for info in lake.list("decisions") if info.name.endswith(".json")]
    decisions = [Decision.from_json(data, name) for name, data in lake.read_many(names).items()]
    return {decision.sha256: decision for decision in decisions}


def write_decision(lake: Lake, decision: Decision) -> None:
    """Puts a decision in place of any earlier one about the same bytes."""
    lake.write(decision_name(decision.sha256), decision.to_json())
