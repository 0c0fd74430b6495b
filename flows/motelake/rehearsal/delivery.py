"""Raw objects: what each gateway delivered in each interval, written as gzip JSON Lines."""

import zlib
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass, field
from datetime import UTC, datetime
from itertools import pairwise
from pathlib import Path

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from motelake.rehearsal.chance import IntArray
from motelake.rehearsal.damage import BEFORE_THE_MOTE, KINDS, REASONS, edit
from motelake.rehearsal.lines import lines_of
from motelake.rehearsal.story import Story

AHEAD = 64  # objects that may wait for compression, so that memory stays bounded

Columns = dict[str, IntArray]


def squeeze(data: bytes, level: int) -> bytes:
    """Gzip with no time stamp, so that the same lines give the same bytes (RFC 1952, MTIME 0)."""
    packer = zlib.compressobj(level, zlib.DEFLATED, 31)
    return packer.compress(data) + packer.flush()


@dataclass
class Ledger:
    """What was delivered and what of it should be refused, for the truth."""

    objects: int = 0
    lines: int = 0
    size: int = 0
    rejects: list[tuple[str, int, str, str, str]] = field(default_factory=list)
    reading_rejects: list[tuple[str, int, str, str, str]] = field(default_factory=list)
    dropped: dict[str, int] = field(default_factory=dict)
    badges: list[str] = field(default_factory=list)
    delivered: list[tuple[str, str, int, int]] = field(default_factory=list)


class Post:
    """Writes the objects of a lake in order of their interval and gateway."""

    def __init__(self, story: Story, target: Path) -> None:
        plan, scene, incidents = story.plan, story.scene, story.incidents
        self.plan, self.scene, self.fleet, self.target = plan, scene, story.fleet, target
        self.ledger = Ledger()
        self.interval_ms = plan.delivery_min * 60_000
        self.start_ms = round(scene.clock.starts_at.timestamp() * 1000)
        self.again = {
            (item.row, self.start_ms + round(item.from_s * 1000))
            for item in incidents
            if item.kind == "redelivered"
        }
        self.pool = ThreadPoolExecutor(2)
        self.waiting: list[Future[int]] = []

    def is_wanted(self, interval_ms: int) -> bool:
        """Whether the plan asks for objects of this interval."""
        at = datetime.fromtimestamp(interval_ms / 1000, UTC)
        after = self.plan.objects_from is None or at >= self.plan.objects_from
        return after and (self.plan.objects_to is None or at < self.plan.objects_to)

    def deliver(self, columns: Columns, codes: IntArray) -> None:
        """Write all hearings given, each in the object of its gateway and interval of arrival."""
        if not len(columns["mote"]):
            return
        interval = columns["received_ms"] // self.interval_ms
        order = np.lexsort(
            (columns["seq"], columns["mote"], columns["received_ms"], columns["gateway"], interval)
        )
        columns = {name: column[order] for name, column in columns.items()}
        interval = interval[order]
        lines = lines_of(
            [gateway.name for gateway in self.fleet.gateways],
            [mote.name for mote in self.fleet.motes],
            self.scene.measures,
            columns,
            codes[order],
        )
        changed = np.flatnonzero((np.diff(interval) != 0) | (np.diff(columns["gateway"]) != 0)) + 1
        edges = [0, *changed.tolist(), len(interval)]
        for low, high in pairwise(edges):
            at_ms, gateway = int(interval[low]) * self.interval_ms, int(columns["gateway"][low])
            if not self.is_wanted(at_ms):
                continue
            at = datetime.fromtimestamp(at_ms / 1000, UTC)
            name = f"raw/{at:%Y-%m-%d}/{at:%H%M}-{self.fleet.gateways[gateway].name}"
            part = {key: column[low:high] for key, column in columns.items()}
            self.write(f"{name}.jsonl.gz", lines.slice(low, high - low), part, gateway)
            third = (high - low) // 3
            if third and (gateway, at_ms) in self.again:
                part = {key: column[high - third : high] for key, column in columns.items()}
                self.write(f"{name}-again.jsonl.gz", lines.slice(high - third, third), part, gateway)

    def write(self, name: str, lines: pa.Array, columns: Columns, gateway: int) -> None:
        """Damage the lines that are to be damaged, and hand the object to the packers."""
        damaged = np.flatnonzero(columns["damage"])
        if len(damaged):
            mask = np.zeros(len(lines), dtype=bool)
            mask[damaged] = True
            edited = [
                self.damage_line(name, int(row) + 1, lines[int(row)].as_py(), columns, int(row))
                for row in damaged
            ]
            lines = pc.replace_with_mask(lines, pa.array(mask), pa.array(edited, pa.binary()))
        for row in np.flatnonzero(columns["is_unregistered"]):
            if REASONS.get(KINDS[columns["damage"][row]]) not in BEFORE_THE_MOTE:
                self.ledger.rejects.append((name, int(row) + 1, "unknown_mote", "unregistered_mote", ""))
        offsets = np.frombuffer(lines.buffers()[1], dtype=np.int32)[
            lines.offset : lines.offset + len(lines) + 1
        ]
        data = memoryview(lines.buffers()[2])[int(offsets[0]) : int(offsets[-1])].tobytes()
        self.ledger.objects += 1
        self.ledger.lines += len(lines)
        self.ledger.delivered.append((name, self.fleet.gateways[gateway].name, len(lines), len(damaged)))
        self.waiting.append(self.pool.submit(self.put, self.target / name, data))
        if len(self.waiting) > AHEAD:
            self.ledger.size += self.waiting.pop(0).result()

    def damage_line(self, name: str, number: int, line: bytes, columns: Columns, row: int) -> bytes:
        """One damaged line, and its entry in the ledger."""
        kind = KINDS[int(columns["damage"][row])]
        mote = self.fleet.motes[int(columns["mote"][row])]
        done = edit(line.rstrip(b"\n"), kind, int(columns["salt"][row]))
        known = mote.name if mote.is_registered else ""
        if REASONS.get(kind) and (mote.is_registered or REASONS[kind] in BEFORE_THE_MOTE):
            self.ledger.rejects.append((name, number, REASONS[kind], kind, known))
        elif mote.is_registered:
            if done.measure:
                self.ledger.reading_rejects.append((name, number, "not_a_number", known, done.measure))
            if done.field:
                self.ledger.dropped[done.field] = self.ledger.dropped.get(done.field, 0) + 1
        if done.badge:
            self.ledger.badges.append(done.badge)
        return done.line + b"\n"

    def put(self, path: Path, data: bytes) -> int:
        """Write one object; its size."""
        packed = squeeze(data, self.plan.compression_level)
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(packed)
        return len(packed)

    def close(self) -> Ledger:
        """Wait for the last object; what was delivered."""
        self.ledger.size += sum(job.result() for job in self.waiting)
        self.waiting.clear()
        self.pool.shutdown()
        return self.ledger
