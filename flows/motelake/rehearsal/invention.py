"""A rehearsal from plan to lake: imagine, put up, let things go wrong, send, deliver, tell the truth."""

import os
import resource
import time
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from motelake.core.sentences import Say
from motelake.errors import InputError
from motelake.rehearsal.campaign_files import campaign_files
from motelake.rehearsal.chance import BoolArray, IntArray, draw
from motelake.rehearsal.chronicle import Chronicle
from motelake.rehearsal.damage import KINDS, REASONS, choose_damage
from motelake.rehearsal.delivery import Columns, Post
from motelake.rehearsal.plan import Plan
from motelake.rehearsal.power import Bursts, bursts_between
from motelake.rehearsal.radio import Hearings, hear
from motelake.rehearsal.sensing import sense, spoil
from motelake.rehearsal.story import Story, settle
from motelake.rehearsal.truth import write_ledger, write_truth

SPAN_S = 3600.0  # bursts are made an hour at a time
COLUMNS = (
    "gateway", "mote", "seq", "received_ms", "rssi_dbm", "battery_cv", "damage", "salt", "is_unregistered",
)  # fmt: skip


@dataclass(frozen=True)
class Report:
    """What was written; lines are those of all raw objects, size_bytes their compressed size."""

    lake: Path
    truth: Path
    motes: int
    bursts: int
    objects: int
    lines: int
    size_bytes: int
    rejects: int
    seconds: float
    peak_memory_mb: float


def battery_code(story: Story, bursts: Bursts, rng: np.random.Generator) -> IntArray:
    """Supply voltage of each burst in hundredths of a volt; a battery that will go flat sinks to 2.4 V."""
    fleet, hours = story.fleet, bursts.second / 3600
    drain = fleet.drain_v_per_h.copy()
    for incident in story.incidents:
        if incident.kind == "battery_flat":
            drain[incident.row] = (fleet.battery_v[incident.row] - 2.4) / (incident.from_s / 3600)
    volts = fleet.battery_v[bursts.mote] - drain[bursts.mote] * hours + rng.normal(0, 0.004, len(hours))
    return np.asarray(np.rint(volts * 100), dtype=np.int64)


def fates(bursts: Bursts, heard: Hearings, lost: BoolArray, undamaged: BoolArray) -> IntArray:
    """What became of each burst, as positions in FATES."""
    count = len(bursts.mote)
    any_heard = np.bincount(heard.burst, minlength=count) > 0
    any_whole = np.bincount(heard.burst[undamaged], minlength=count) > 0
    return np.where(any_whole, 0, np.where(lost, 1, np.where(any_heard, 3, 2))).astype(np.int64)


def send_span(story: Story, chronicle: Chronicle, span: int) -> tuple[Columns, IntArray, int]:
    """One span's hearings as columns with their reading codes, and the number of bursts sent."""
    seed, end = story.plan.seed, story.scene.clock.seconds
    bursts = bursts_between(story.boots, max(0.0, span * SPAN_S), min(end, (span + 1) * SPAN_S))
    codes = sense(story.tools, bursts, draw(seed, "sense", span))
    faulty = spoil(story.tools, bursts, codes, story.incidents, draw(seed, "spoil", span))
    heard, lost = hear(story.fleet, bursts, story.incidents, story.plan.faults, draw(seed, "hear", span))
    rng = draw(seed, "damage", span)
    damage = choose_damage(heard.gateway, heard.received_s, story.incidents, story.plan.faults, rng)
    is_refused = np.array([bool(REASONS.get(kind)) for kind in KINDS])
    undamaged = ~is_refused[damage]
    flushed = np.bincount(heard.burst[heard.is_flushed], minlength=len(bursts.mote)) > 0
    hearings = np.bincount(heard.burst[undamaged], minlength=len(bursts.mote))
    chronicle.add(bursts, hearings, flushed, fates(bursts, heard, lost, undamaged))
    chronicle.add_faulty(bursts, faulty)
    start_ms = round(story.scene.clock.starts_at.timestamp() * 1000)
    unregistered = np.array([not mote.is_registered for mote in story.fleet.motes])
    columns = {
        "gateway": heard.gateway,
        "mote": bursts.mote[heard.burst],
        "seq": bursts.seq[heard.burst],
        "received_ms": start_ms + np.rint(heard.received_s * 1000).astype(np.int64),
        "rssi_dbm": heard.rssi_dbm,
        "battery_cv": battery_code(story, bursts, rng)[heard.burst],
        "damage": damage,
        "salt": rng.integers(2**40, size=len(heard.burst)),
        "is_unregistered": unregistered[bursts.mote[heard.burst]].astype(np.int64),
    }
    return columns, codes[heard.burst], len(bursts.mote)


def spans_of(story: Story) -> tuple[int, int]:
    """First and last span to make; earlier ones only as far back as their bursts may still be delivered."""
    start, last = story.scene.clock.starts_at, int(np.ceil(story.scene.clock.seconds / SPAN_S))
    first = 0
    stored_s = story.plan.faults.flush_min * 60
    if story.plan.objects_from is not None:
        first = int(((story.plan.objects_from - start).total_seconds() - stored_s) // SPAN_S) - 1
    if story.plan.objects_to is not None:
        last = min(last, int(-(-(story.plan.objects_to - start).total_seconds() // SPAN_S)))
    return min(max(0, first), last), last


def send_all(story: Story, chronicle: Chronicle, post: Post, tell: Say) -> int:
    """Send and deliver every span; the number of bursts sent."""
    first, last = spans_of(story)
    start_ms = round(story.scene.clock.starts_at.timestamp() * 1000)
    pending: Columns = {name: np.zeros(0, dtype=np.int64) for name in COLUMNS}
    pending_codes = np.zeros((0, len(story.scene.measures)), dtype=np.int64)
    bursts = 0
    for span in range(first, last):
        columns, codes, sent = send_span(story, chronicle, span)
        bursts += sent
        pending = {name: np.concatenate([pending[name], columns[name]]) for name in COLUMNS}
        pending_codes = np.concatenate([pending_codes, codes])
        is_due = pending["received_ms"] < start_ms + (span + 1) * SPAN_S * 1000
        post.deliver({name: column[is_due] for name, column in pending.items()}, pending_codes[is_due])
        pending = {name: column[~is_due] for name, column in pending.items()}
        pending_codes = pending_codes[~is_due]
        if (span + 1) % 6 == 0 or span + 1 == last:
            tell(f"{story.scene.clock.at((span + 1) * SPAN_S):%Y-%m-%d %H:%M} UTC, {bursts:,} bursts sent")
    post.deliver(pending, pending_codes)
    return bursts


def write_campaign(story: Story, target: Path) -> None:
    """Write everything of a lake besides raw/."""
    for name, text in campaign_files(story).items():
        path = target / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8", newline="\n")


def rehearse(target: Path, plan: Plan, progress: Say = lambda _sentence: None) -> Report:
    """Write an invented lake into target and the truth beside it into <target>-truth; tell what was written.

    The same plan gives the same bytes. Raises InputError where target already holds something.
    """
    began = time.monotonic()
    truth = target.with_name(target.name + "-truth")
    for folder in (target, truth):
        if folder.exists() and (not folder.is_dir() or os.listdir(folder)):
            raise InputError(f"{folder} already holds something; name a folder that is new or empty.")
    story = settle(plan)
    zones, incidents = len(story.scene.zones), len(story.incidents)
    progress(f"{story.scene.title}: {plan.motes} motes in {zones} zones, {incidents} incidents")
    write_campaign(story, target)
    chronicle = Chronicle(truth, story)
    write_truth(truth, story)
    post = Post(story, target)
    try:
        bursts = send_all(story, chronicle, post, progress)
    finally:
        ledger = post.close()
        chronicle.close()
    write_ledger(truth, ledger)
    return Report(
        lake=target,
        truth=truth,
        motes=plan.motes,
        bursts=bursts,
        objects=ledger.objects,
        lines=ledger.lines,
        size_bytes=ledger.size,
        rejects=len(ledger.rejects),
        seconds=round(time.monotonic() - began, 1),
        peak_memory_mb=round(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024, 1),
    )
