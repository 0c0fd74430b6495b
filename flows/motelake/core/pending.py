"""What is still to be staged: the objects listed in raw/ against what the manifests say of them."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from motelake.core.hashes import content_hash
from motelake.core.manifests import Manifest, ObjectInfo, StagedObject, StagingInputs
from motelake.core.reasons import LineReason
from motelake.errors import ChangedObjectError

# Formats count the names of dropped fields up to a number; the rest stand under this one.
OTHER_FIELDS = "(other)"


@dataclass(frozen=True)
class KnownObject:
    """A raw object as its latest manifest staged it; of its account only what can ask for staging again."""

    name: str
    size: int
    etag: str | None
    sha256: str
    manifest: int
    inputs: StagingInputs
    dropped: frozenset[str]
    unknown_motes: int

    @property
    def version(self) -> str:
        """The object's size and ETag in words."""
        return _version(self.size, self.etag)


@dataclass(frozen=True)
class Pending:
    """Objects to stage (those staged before with other inputs included), sorted; and those refused."""

    objects: tuple[ObjectInfo, ...]
    changed: tuple[ChangedObjectError, ...]


def known_objects(
    manifests: Iterable[Manifest], start: Mapping[str, KnownObject] | None = None
) -> dict[str, KnownObject]:
    """Every raw object that manifests name, as the one with the highest number staged it."""
    known = dict(start or {})
    for manifest in sorted(manifests, key=lambda manifest: manifest.number):
        for staged in manifest.objects:
            known[staged.name] = _known(staged, manifest)
    return known


def pending(listed: Iterable[ObjectInfo], known: Mapping[str, KnownObject], inputs: StagingInputs) -> Pending:
    """What is to be staged of the objects listed, given what is known and what staging reads them with."""
    objects, changed = [], []
    asks_again = {}
    for info in sorted(listed):
        before = known.get(info.name)
        if before is None:
            objects.append(info)
        elif has_changed(info, before):
            changed.append(ChangedObjectError(info.name, before.version, _version(info.size, info.etag)))
        else:
            key = (id(before.inputs), before.dropped, before.unknown_motes > 0)
            if key not in asks_again:
                asks_again[key] = is_staged_otherwise(before, inputs)
            if asks_again[key]:
                objects.append(info)
    return Pending(tuple(objects), tuple(changed))


def has_changed(info: ObjectInfo, before: KnownObject) -> bool:
    """True where an object's size differs, or its ETag where both listings had one."""
    both_tagged = info.etag is not None and before.etag is not None
    return info.size != before.size or (both_tagged and info.etag != before.etag)


def is_staged_otherwise(before: KnownObject, inputs: StagingInputs) -> bool:
    """True where staging with these inputs may bring something else out of the same bytes."""
    then = before.inputs
    if _reading_of_lines(then) != _reading_of_lines(inputs):
        return True
    if any(inputs.measures.get(name) != unit for name, unit in then.measures.items()):
        return True
    added = inputs.measures.keys() - then.measures.keys()
    if added and (added & before.dropped or OTHER_FIELDS in before.dropped):
        return True
    motes_then, motes_now = set(then.motes), set(inputs.motes)
    return bool(motes_then - motes_now) or (before.unknown_motes > 0 and bool(motes_now - motes_then))


def close_batches(
    objects: Iterable[ObjectInfo], objects_per_batch: int, bytes_per_batch: int
) -> Iterator[tuple[ObjectInfo, ...]]:
    """Objects in the order given, in groups of at most so many objects and bytes; a larger one goes alone."""
    batch: list[ObjectInfo] = []
    size = 0
    for info in objects:
        if batch and (len(batch) == objects_per_batch or size + info.size > bytes_per_batch):
            yield tuple(batch)
            batch, size = [], 0
        batch.append(info)
        size += info.size
    if batch:
        yield tuple(batch)


def checkpoint_record(number: int, head: str, known: Mapping[str, KnownObject]) -> dict[str, Any]:
    """Everything known after a manifest (its number and id), each different set of inputs once."""
    inputs: dict[str, dict[str, Any]] = {}
    keys: dict[int, str] = {}
    objects = []
    for one in sorted(known.values(), key=lambda one: one.name):
        key = keys.get(id(one.inputs))
        if key is None:
            record = one.inputs.to_dict()
            key = keys[id(one.inputs)] = content_hash(record)[:16]
            inputs[key] = record
        objects.append(
            [
                one.name,
                one.size,
                one.etag,
                one.sha256,
                one.manifest,
                key,
                sorted(one.dropped),
                one.unknown_motes,
            ]
        )
    return {"number": number, "id": head, "inputs": inputs, "objects": objects}


def known_from_checkpoint(record: Mapping[str, Any]) -> dict[str, KnownObject]:
    """The inverse of checkpoint_record."""
    inputs = {key: StagingInputs.from_dict(one) for key, one in record["inputs"].items()}
    rows: Sequence[Sequence[Any]] = record["objects"]
    return {
        name: KnownObject(name, size, etag, sha256, manifest, inputs[key], frozenset(dropped), unknown)
        for name, size, etag, sha256, manifest, key, dropped, unknown in rows
    }


def _known(staged: StagedObject, manifest: Manifest) -> KnownObject:
    return KnownObject(
        staged.name,
        staged.size,
        staged.etag,
        staged.sha256,
        manifest.number,
        manifest.inputs,
        frozenset(staged.dropped),
        staged.rejected.get(LineReason.UNKNOWN_MOTE, 0),
    )


def _reading_of_lines(inputs: StagingInputs) -> tuple[object, ...]:
    return (
        inputs.parser,
        inputs.starts_at,
        inputs.ends_at,
        inputs.late_min,
        inputs.bytes_per_object,
        inputs.bytes_per_line,
    )


def _version(size: int, etag: str | None) -> str:
    return f"{size} bytes" + (f", ETag {etag}" if etag else "")
