"""Manifests: what one batch of raw objects was staged into, and with what it was read.

A manifest's id comes from content alone (what was read, and how), so that a run after a crash finds the names
it chose before. Its number is only its place in the chain.
"""

import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass, field
from datetime import datetime
from typing import Any, NamedTuple

from motelake.core.hashes import content_hash
from motelake.core.instants import format_instant, parse_instant
from motelake.errors import InputError


class ObjectInfo(NamedTuple):
    """An object as a listing shows it; size in bytes as stored, etag where the store has one."""

    name: str
    size: int
    etag: str | None


@dataclass(frozen=True)
class StagingInputs:
    """All that decides, besides an object's bytes, what comes out of it at staging.

    measures maps each name to its unit; the byte limits count uncompressed bytes.
    """

    parser: int
    starts_at: datetime
    ends_at: datetime
    late_min: float
    bytes_per_object: int
    bytes_per_line: int
    measures: Mapping[str, str]
    motes: Sequence[str]

    def to_dict(self) -> dict[str, Any]:
        """As it stands in a manifest: names sorted, times RFC 3339."""
        return asdict(self) | {
            "starts_at": format_instant(self.starts_at),
            "ends_at": format_instant(self.ends_at),
            "measures": dict(sorted(self.measures.items())),
            "motes": sorted(self.motes),
        }

    @classmethod
    def from_dict(cls, record: Mapping[str, Any]) -> "StagingInputs":
        """The inverse of to_dict."""
        times = {key: parse_instant(record[key]) for key in ("starts_at", "ends_at")}
        return cls(**(dict(record) | times | {"motes": tuple(record["motes"])}))


@dataclass(frozen=True)
class Lines:
    """Lines of one object: read = parsed + rejected."""

    read: int
    parsed: int
    rejected: int


@dataclass(frozen=True)
class StagedObject:
    """One raw object of a batch, with the account of its lines.

    rejected counts lines by reason; reading_rejects counts single readings; dropped counts fields by name.
    refused says why nothing at all was taken from the object.
    """

    name: str
    size: int
    etag: str | None
    sha256: str
    lines: Lines
    rejected: Mapping[str, int] = field(default_factory=dict)
    reading_rejects: int = 0
    dropped: Mapping[str, int] = field(default_factory=dict)
    refused: str | None = None

    @property
    def info(self) -> ObjectInfo:
        """The object as it was listed."""
        return ObjectInfo(self.name, self.size, self.etag)

    @classmethod
    def from_dict(cls, record: Mapping[str, Any]) -> "StagedObject":
        """The inverse of dataclasses.asdict."""
        return cls(**(dict(record) | {"lines": Lines(**record["lines"])}))


@dataclass(frozen=True)
class Manifest:
    """The commit point of a batch; names are relative to the lake.

    rejects is the Parquet of rejected lines, reading_rejects that of rejected readings, None where there are
    none. previous is the id of the manifest before. A compaction stages no objects; replaces says for each of
    its files which earlier ones it took over.
    """

    number: int
    id: str
    previous: str | None
    made_at: datetime
    inputs: StagingInputs
    objects: Sequence[StagedObject]
    staged: Sequence[str]
    rejects: str | None = None
    reading_rejects: str | None = None
    replaces: Mapping[str, Sequence[str]] = field(default_factory=dict)

    def to_json(self) -> bytes:
        """The bytes of the manifest's file, one stable text for one content."""
        record = asdict(self) | {"made_at": format_instant(self.made_at), "inputs": self.inputs.to_dict()}
        return (json.dumps(record, indent=1, sort_keys=True) + "\n").encode()

    @classmethod
    def from_json(cls, data: bytes, name: str) -> "Manifest":
        """The manifest in a file; InputError naming the file where it is damaged."""
        try:
            record = json.loads(data)
            return cls(
                **record
                | {
                    "made_at": parse_instant(record["made_at"]),
                    "inputs": StagingInputs.from_dict(record["inputs"]),
                    "objects": tuple(StagedObject.from_dict(one) for one in record["objects"]),
                    "staged": tuple(record["staged"]),
                    "replaces": {new: tuple(old) for new, old in dict(record["replaces"]).items()},
                }
            )
        except (ValueError, KeyError, TypeError) as error:
            raise InputError(
                f"{name} is no manifest of this version of motelake ({error!r}). Put it back from a backup, "
                "or remove manifests/ and staged/ and stage all of raw/ again."
            ) from error


def manifest_id(inputs: StagingInputs, objects: Iterable[tuple[str, str]]) -> str:
    """The id of the batch that reads these objects, given as (name, sha256), with these inputs."""
    return content_hash({"inputs": inputs.to_dict(), "objects": sorted(objects)})[:32]


def manifest_name(number: int) -> str:
    """Where the manifest of this number lies in the lake."""
    return f"manifests/{number:08d}.json"


def staged_name(manifest: str, day: str) -> str:
    """Where a batch keeps the hearings of one UTC day (YYYY-MM-DD)."""
    return f"staged/day={day}/{manifest}.parquet"


def rejects_name(manifest: str) -> str:
    """Where a batch keeps its rejected lines."""
    return f"rejects/{manifest}.parquet"


def reading_rejects_name(manifest: str) -> str:
    """Where a batch keeps its rejected readings."""
    return f"rejects/{manifest}.readings.parquet"
