"""What an operator decides about a held raw object."""

from datetime import UTC, datetime

from motelake.core.decisions import Choice, Decision, find_object
from motelake.core.manifests import Manifest, manifest_name
from motelake.core.pending import KnownObject
from motelake.core.sentences import Say
from motelake.core.verdicts import Verdict
from motelake.errors import InputError, UnknownNameError
from motelake.lake.chain import read_chain
from motelake.lake.records import read_verdicts, write_decision
from motelake.lake.store import Lake

PAST = {"admit": "admitted", "discard": "discarded"}


def decide(lake: Lake, wanted: str, choice: Choice, say: Say, note: str | None = None) -> Decision:
    """Writes the decision about a held raw object, named in full or by a unique end of its name.

    Raises UnknownNameError where no raw object is named so, InputError where the object is not held.
    A later decision about the same bytes takes the place of an earlier one.
    """
    known = read_chain(lake).known
    try:
        name = find_object(wanted, known)
    except UnknownNameError:
        delivered = find_object(wanted, [info.name for info in lake.list("raw")])
        raise InputError(
            f"{delivered} is not staged yet, so nothing is held. Run 'motelake run' first."
        ) from None
    verdict = _verdict(lake, known[name])
    if verdict is None:
        raise InputError(f"{name} has no verdict yet. Run 'motelake check' first.")
    if verdict.state != "hold":
        raise InputError(f"{name} is not held: it passed the gate, so there is nothing to decide.")
    decision = Decision(name, known[name].sha256, choice, datetime.now(UTC).replace(microsecond=0), note)
    write_decision(lake, decision)
    say(f"{name} is {PAST[choice]}. The next 'motelake run' acts on it.")
    return decision


def _verdict(lake: Lake, known: KnownObject) -> Verdict | None:
    place = manifest_name(known.manifest)
    manifest = Manifest.from_json(lake.read(place), place)
    batch = read_verdicts(lake, [manifest.id]).get(manifest.id)
    return next((one for one in batch.objects if one.object == known.name), None) if batch else None
