"""Raw objects to staged Parquet: batch after batch, each committed by its manifest, written last."""

from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import partial

from motelake.config import Config
from motelake.core.campaign import Campaign
from motelake.core.manifests import Manifest, ObjectInfo, StagingInputs
from motelake.core.pending import close_batches, pending
from motelake.core.sentences import Say, counted
from motelake.errors import InputError
from motelake.formats.objects import split_ending
from motelake.lake.chain import Chain, append, follow, mend, read_chain
from motelake.lake.store import Lake
from motelake.steps.batch import Batch, Infos, Made, PassedOver, make_batch
from motelake.steps.each import Each, in_turn
from motelake.steps.report import Report

PARSER = 1
"""Version of the reading of raw objects: with another one, everything is staged again."""

ONE_AT_A_TIME = (
    "Note: the store of {url} has no conditional writes. Let one process at a time stage into this lake."
)


@dataclass(frozen=True)
class StageReport(Report):
    """What staging did: counts of what it took in, and a sentence for each object that it did not take.

    refused need a person (a wrong name, changed bytes, bytes that this user may not read); passed_over are
    tried again by themselves.
    """

    manifests: tuple[str, ...]
    objects: int
    lines_read: int
    lines_parsed: int
    rejected: dict[str, int]
    refused: tuple[str, ...]
    passed_over: tuple[str, ...]

    @property
    def needs_attention(self) -> bool:
        """True where a person must rename, put back or deliver something again."""
        return bool(self.refused)


def stage(lake: Lake, campaign: Campaign, config: Config, say: Say, *, each: Each = in_turn) -> StageReport:
    """Stages every raw object that no manifest names yet, or that was staged with other inputs.

    each says where batches are made; here they are taken into the chain in their order. What goes beyond
    config.memory lies on disk. What cannot be taken is named in the report and stops nothing else.
    """
    inputs = staging_inputs(campaign)
    accepted, refused = accept(lake.list("raw"))
    chain = mend(lake, read_chain(lake))
    found = pending(accepted, chain.known, inputs)
    refused += [str(error) for error in found.changed]
    manifests: list[Manifest] = []
    passed_over: list[PassedOver] = []
    if found.objects:
        if not lake.creates_exclusively():
            say(ONE_AT_A_TIME.format(url=lake.url))
        make = partial(make_batch, lake=lake, inputs=inputs, config=config)
        writer = _Writer(lake, campaign, inputs, say, partial(each, make))
        manifests, passed_over = writer.stage_all(chain, found.objects)
    refused += [one.sentence for one in passed_over if one.needs_somebody]
    left = tuple(one.sentence for one in passed_over if not one.needs_somebody)
    for sentence in (*refused, *left):
        say(sentence)
    return _report(manifests, refused, left)


def staging_inputs(campaign: Campaign) -> StagingInputs:
    """What of a campaign decides what comes out of a raw object."""
    return StagingInputs(
        parser=PARSER,
        starts_at=campaign.starts_at,
        ends_at=campaign.ends_at,
        late_min=campaign.limits.late_min,
        bytes_per_object=campaign.limits.bytes_per_object,
        bytes_per_line=campaign.limits.bytes_per_line,
        measures=dict(sorted((one.measure, one.unit) for one in campaign.register.measures)),
        motes=tuple(sorted(one.mote for one in campaign.register.motes)),
    )


@dataclass(frozen=True)
class _Writer:
    lake: Lake
    campaign: Campaign
    inputs: StagingInputs
    say: Say
    make: Callable[[Iterable[Infos]], Iterator[Made]]

    def stage_all(
        self, chain: Chain, objects: Sequence[ObjectInfo]
    ) -> tuple[list[Manifest], list[PassedOver]]:
        manifests: list[Manifest] = []
        passed_over: list[PassedOver] = []
        batches = self._close(objects)
        while batches:
            rest: list[ObjectInfo] = []
            for number, (batch, left) in enumerate(self.make(batches), start=1):
                passed_over += left
                if batch is None:
                    continue
                manifest, chain = self._commit(chain, batch)
                if manifest is None:
                    # Another writer was quicker: what it staged is done, the rest is closed again.
                    rest = [one.info for one in batch.objects] + [
                        info for later in batches[number:] for info in later
                    ]
                    break
                manifests.append(manifest)
                self.say(_describe(manifest))
            batches = self._close(pending(rest, chain.known, self.inputs).objects)
        return manifests, passed_over

    def _close(self, objects: Iterable[ObjectInfo]) -> list[tuple[ObjectInfo, ...]]:
        limits = self.campaign.limits
        return list(close_batches(objects, limits.batch_objects, limits.batch_bytes))

    def _commit(self, chain: Chain, batch: Batch) -> tuple[Manifest | None, Chain]:
        """The batch's manifest and the chain with it; no manifest where another writer staged some of it."""
        while True:
            manifest = Manifest(
                number=chain.number + 1,
                id=batch.id,
                previous=chain.id,
                made_at=datetime.now(UTC).replace(microsecond=0),
                inputs=self.inputs,
                objects=batch.objects,
                staged=batch.staged,
                rejects=batch.rejects,
                reading_rejects=batch.reading_rejects,
            )
            try:
                return manifest, append(self.lake, chain, manifest)
            except FileExistsError:
                before = chain.number
                chain = mend(self.lake, follow(self.lake, chain))
                now_known = (chain.known.get(one.name) for one in batch.objects)
                if any(one is not None and one.manifest > before for one in now_known):
                    return None, chain


def accept(listed: Iterable[ObjectInfo]) -> tuple[list[ObjectInfo], list[str]]:
    """Objects whose names can be used, and a sentence for each of the others."""
    accepted: list[ObjectInfo] = []
    refused: list[str] = []
    for info in listed:
        try:
            if not info.name.isprintable():
                raise InputError(
                    f"{info.name!r} was refused: its name holds characters that cannot be shown. Rename it."
                )
            split_ending(info.name)
            accepted.append(info)
        except InputError as error:
            refused.append(str(error))
    return accepted, refused


def _describe(manifest: Manifest) -> str:
    parsed = sum(one.lines.parsed for one in manifest.objects)
    rejected = sum(one.lines.rejected for one in manifest.objects)
    objects, lines = counted(len(manifest.objects), "raw object"), counted(parsed, "line")
    return f"Staged batch {manifest.number}: {objects}, {lines} taken, {rejected:,} rejected."


def _report(manifests: Sequence[Manifest], refused: Sequence[str], left: Sequence[str]) -> StageReport:
    objects = [one for manifest in manifests for one in manifest.objects]
    rejected: Counter[str] = Counter()
    for one in objects:
        rejected.update(one.rejected)
    return StageReport(
        manifests=tuple(manifest.id for manifest in manifests),
        objects=len(objects),
        lines_read=sum(one.lines.read for one in objects),
        lines_parsed=sum(one.lines.parsed for one in objects),
        rejected=dict(sorted(rejected.items())),
        refused=tuple(refused),
        passed_over=tuple(left),
    )
