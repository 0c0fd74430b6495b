"""The gate: every staged raw object gets a verdict, kept in the lake."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from itertools import islice
from pathlib import Path
from tempfile import TemporaryDirectory

from motelake.checks.judge import judge
from motelake.checks.profile import ObjectProfile, profile_objects
from motelake.config import Config, as_set_here
from motelake.core.campaign import Campaign
from motelake.core.compaction import batches_of, files_now, taken_over
from motelake.core.manifests import Manifest
from motelake.core.sentences import Say, counted
from motelake.core.verdicts import BatchVerdict, Verdict, judging_hash
from motelake.engine import open_engine, told_surroundings
from motelake.lake.chain import read_manifests
from motelake.lake.records import (
    JudgedThrough,
    read_decisions,
    read_judged,
    read_verdicts,
    write_judged,
    write_verdict,
)
from motelake.lake.store import Lake
from motelake.steps.each import Each, in_turn
from motelake.steps.report import Report

MANIFESTS_AT_ONCE = 64
"""Judged together in one process: one validation serves them all, and a stopped run loses no more."""


OBJECTS_TOLD = 3


@dataclass(frozen=True)
class CheckReport(Report):
    """What the gate did in this run: objects judged, and of those what is held or warned of and why."""

    manifests: int
    objects: int
    held: tuple[Verdict, ...]
    warned: tuple[Verdict, ...]

    @property
    def needs_attention(self) -> bool:
        """True where an object waits for a decision."""
        return bool(self.held)


def check(
    lake: Lake,
    campaign: Campaign,
    config: Config,
    say: Say,
    *,
    each: Each = in_turn,
) -> CheckReport:
    """Judges what has no verdict, or one that was made with other limits, spans or periods.

    each says where that is done. Objects on which an operator has decided are judged too, but not reported as
    held.
    """
    judged_with = judging_hash(campaign)
    manifests = _not_judged(lake, judged_with)
    decided = set(read_decisions(lake)) if manifests else set()
    verdicts: list[Verdict] = []
    moved = taken_over(manifests)
    groups = list(_groups(manifests, 1 if config.dask else MANIFESTS_AT_ONCE))
    judge_group = partial(
        _judge_group, lake=lake, campaign=campaign, config=config, judged_with=judged_with, moved=moved
    )
    for group, judged in zip(groups, each(judge_group, map(batches_of, groups)), strict=True):
        verdicts += judged
        write_judged(lake, JudgedThrough(judged_with, group[-1].number, group[-1].id))
    # An object staged again is judged again: the last word counts.
    latest = {verdict.object: verdict for verdict in verdicts}
    held = tuple(one for one in latest.values() if one.state == "hold" and one.sha256 not in decided)
    warned = tuple(one for one in latest.values() if one.warnings)
    for sentence in (*_summary("Held", held), *_summary("Note", warned)):
        say(sentence)
    if verdicts:
        checked = counted(len(verdicts), "raw object")
        say(f"Checked {checked}: {len(held):,} held, {len(warned):,} with a note.")
    return CheckReport(len(batches_of(manifests)), len(verdicts), held, warned)


def _not_judged(lake: Lake, judged_with: str) -> list[Manifest]:
    """The manifests after the last that is known to be judged so."""
    judged = read_judged(lake)
    if judged.number > 0 and judged.judged_with == judged_with:
        manifests = read_manifests(lake, after=judged.number - 1)
        # The note may be about a chain that was since taken away and begun again.
        if manifests and manifests[0].id == judged.manifest:
            return manifests[1:]
    return read_manifests(lake)


def _judge_group(
    manifests: Sequence[Manifest],
    lake: Lake,
    campaign: Campaign,
    config: Config,
    *,
    judged_with: str,
    moved: Mapping[str, str],
) -> list[Verdict]:
    """The verdicts on all objects of these manifests; what a stopped run judged already is taken from it."""
    kept = {
        manifest: verdict
        for manifest, verdict in read_verdicts(lake, [one.id for one in manifests]).items()
        if verdict.judged_with == judged_with
    }
    to_judge = [manifest for manifest in manifests if manifest.id not in kept]
    profiles = _profiles(lake, to_judge, campaign, config, moved)
    verdicts = iter(judge([profile for batch in profiles for profile in batch], campaign))
    for manifest in to_judge:
        batch = BatchVerdict(manifest.id, judged_with, tuple(islice(verdicts, len(manifest.objects))))
        write_verdict(lake, batch)
        kept[manifest.id] = batch
    return [verdict for manifest in manifests for verdict in kept[manifest.id].objects]


@told_surroundings("Checking")
def _profiles(
    lake: Lake, manifests: Sequence[Manifest], campaign: Campaign, config: Config, moved: Mapping[str, str]
) -> list[list[ObjectProfile]]:
    profiles, config = [], as_set_here(config)
    shared: dict[str, Path] = {}
    with (
        TemporaryDirectory(prefix="motelake-", dir=config.work_folder) as work,
        open_engine(memory=config.memory, threads=config.threads, spill_folder=Path(work)) as engine,
    ):
        for manifest in manifests:
            files = {
                name: shared.get(name) or lake.fetch(name, Path(work))
                for name in files_now(manifest.staged, moved)
            }
            profiles.append(profile_objects(engine, manifest, list(files.values()), campaign))
            # A file that a compaction made serves many batches.
            shared |= {name: file for name, file in files.items() if name not in manifest.staged}
            if not lake.is_local:
                for file in set(files.values()) - set(shared.values()):
                    file.unlink()
    return profiles


def _summary(word: str, verdicts: Sequence[Verdict]) -> list[str]:
    """A sentence each for the first few, and one that counts the rest: hundreds can have one cause."""
    told = [
        f"{word}: {one.object}: {'; '.join(one.reasons if word == 'Held' else one.warnings)}."
        for one in verdicts[:OBJECTS_TOLD]
    ]
    more = len(verdicts) - len(told)
    return told + ([f"{word}: {more:,} more raw objects; 'motelake status' names them all."] if more else [])


def _groups(manifests: Sequence[Manifest], size: int) -> Iterator[Sequence[Manifest]]:
    for start in range(0, len(manifests), size):
        yield manifests[start : start + size]
