"""The chain of manifests in a lake: numbered without gaps, each created exclusively, found by GET.

A listing may come late; a GET of a known name does not. manifests/latest.json is a hint of where the chain
ends, manifests/checkpoint-00000100.json the sum of all manifests up to it, so that a run reads at most one
checkpoint and the manifests since, however long the chain.
"""

import json
import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from motelake.core.manifests import Manifest, manifest_name
from motelake.core.pending import KnownObject, checkpoint_record, known_from_checkpoint, known_objects
from motelake.errors import InputError
from motelake.lake.store import Lake

CHECKPOINT_EVERY = 100
HINT = "manifests/latest.json"


@dataclass(frozen=True)
class Chain:
    """Where the chain ends (number 0 and no id before the first manifest), and what it knows by then."""

    number: int
    id: str | None
    known: Mapping[str, KnownObject]
    hint: int
    checkpoint: int


def checkpoint_name(number: int) -> str:
    """Where the checkpoint after the manifest of this number lies."""
    return f"manifests/checkpoint-{number:08d}.json"


def is_link(name: str) -> bool:
    """True for the name of a manifest, false for what else lies beside the chain."""
    return re.fullmatch(r"manifests/\d{8,}\.json", name) is not None


def read_chain(lake: Lake) -> Chain:
    """The chain as it stands; InputError where a manifest is damaged or missing."""
    hint = _read_hint(lake)
    checkpoint = hint - hint % CHECKPOINT_EVERY
    record = _read_checkpoint(lake, checkpoint)
    while record is None and checkpoint > 0:
        # Its writer was stopped between the manifest and the checkpoint.
        checkpoint -= CHECKPOINT_EVERY
        record = _read_checkpoint(lake, checkpoint)
    start = Chain(checkpoint, record["id"] if record else None, {}, hint, checkpoint)
    known = known_from_checkpoint(record) if record else {}
    return _walk(lake, replace(start, known=known), hint)


def follow(lake: Lake, chain: Chain) -> Chain:
    """The chain with what others appended since it was read."""
    return _walk(lake, chain, chain.number)


def append(lake: Lake, chain: Chain, manifest: Manifest) -> Chain:
    """The chain after this manifest was committed to the lake as the next one.

    Raises FileExistsError where another writer took the number first: follow the chain and close again.
    """
    lake.create(manifest_name(manifest.number), manifest.to_json())
    known = known_objects([manifest], chain.known)
    return mend(lake, replace(chain, number=manifest.number, id=manifest.id, known=known))


def mend(lake: Lake, chain: Chain) -> Chain:
    """The chain after its hint and its checkpoint were brought up to it, where they lagged behind."""
    due = chain.number - chain.number % CHECKPOINT_EVERY
    if chain.number == due > chain.checkpoint:
        record = checkpoint_record(chain.number, chain.id or "", chain.known)
        lake.write(checkpoint_name(due), json.dumps(record, separators=(",", ":")).encode())
        chain = replace(chain, checkpoint=due)
    if chain.hint != chain.number:
        lake.write(HINT, json.dumps({"number": chain.number}).encode())
        chain = replace(chain, hint=chain.number)
    return chain


def read_manifests(lake: Lake, after: int = 0) -> list[Manifest]:
    """Every manifest with a number above this one, in order."""
    known = [manifest_name(number) for number in range(after + 1, _read_hint(lake) + 1)]
    found = lake.read_many(known)
    for name in known:
        if name not in found:
            raise _missing(name)
    manifests = [Manifest.from_json(found[name], name) for name in known]
    while (manifest := _read_manifest(lake, after + len(manifests) + 1)) is not None:
        manifests.append(manifest)
    return manifests


def _walk(lake: Lake, chain: Chain, until: int) -> Chain:
    """The chain read on from its end: at once up to a number known to be there, then one by one."""
    names = [manifest_name(number) for number in range(chain.number + 1, until + 1)]
    found = lake.read_many(names)
    manifests: list[Manifest] = []
    head, number = chain.id, chain.number
    while True:
        name = manifest_name(number + 1)
        if number < until:
            if name not in found:
                raise _missing(name)
            manifest: Manifest | None = Manifest.from_json(found[name], name)
        else:
            manifest = _read_manifest(lake, number + 1)
        if manifest is None:
            return replace(chain, number=number, id=head, known=known_objects(manifests, chain.known))
        if manifest.previous != head or manifest.number != number + 1:
            raise InputError(
                f"{name} does not follow {manifest_name(number)}: it names {manifest.previous} as the one "
                f"before, which is {head}. The chain was changed by hand; put manifests/ back from a backup, "
                "or remove manifests/ and staged/ and stage all of raw/ again."
            )
        manifests.append(manifest)
        head, number = manifest.id, manifest.number


def _read_hint(lake: Lake) -> int:
    try:
        return max(0, int(json.loads(lake.read(HINT))["number"]))
    except (FileNotFoundError, ValueError, KeyError, TypeError):
        # Only a hint: without it the chain is walked from its start, and the hint is written again.
        return 0


def _read_checkpoint(lake: Lake, number: int) -> dict[str, Any] | None:
    if number == 0:
        return None
    name = checkpoint_name(number)
    try:
        record: dict[str, Any] = json.loads(lake.read(name))
    except FileNotFoundError:
        return None
    except ValueError as error:
        raise InputError(
            f"{name} is damaged ({error}). Remove it; it is made again from the manifests."
        ) from error
    return record


def _read_manifest(lake: Lake, number: int) -> Manifest | None:
    name = manifest_name(number)
    try:
        return Manifest.from_json(lake.read(name), name)
    except FileNotFoundError:
        return None


def _missing(name: str) -> InputError:
    return InputError(
        f"{name} is missing from the chain of manifests. Put it back from a backup, or remove manifests/ and "
        "staged/ and stage all of raw/ again."
    )
