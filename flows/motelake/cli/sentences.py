"""The reports of the steps as lines for people."""

from collections.abc import Iterator, Mapping
from typing import TYPE_CHECKING

from motelake.core.sentences import counted

if TYPE_CHECKING:
    from motelake.steps.check import CheckReport
    from motelake.steps.compact import CompactReport
    from motelake.steps.load import LoadReport
    from motelake.steps.publish import PublishReport
    from motelake.steps.stage import StageReport

SHOWN = 5


def by_size(counts: Mapping[str, int]) -> str:
    """Names with their counts, the largest first."""
    ordered = sorted(counts.items(), key=lambda item: (-item[1], item[0]))
    return ", ".join(f"{name} {count:,}" for name, count in ordered)


def stage_lines(report: "StageReport") -> Iterator[str]:
    """What came in, and what was rejected and why."""
    if not report.objects:
        yield "Nothing new to stage."
    else:
        yield (
            f"Staged {counted(report.objects, 'raw object')} in "
            f"{counted(len(report.manifests), 'batch', 'batches')}: "
            f"{counted(report.lines_read, 'line')} read, {report.lines_parsed:,} taken, "
            f"{report.lines_read - report.lines_parsed:,} rejected."
        )
    if report.rejected:
        yield f"  rejected because: {by_size(report.rejected)}"
    yield from _some("refused", report.refused)
    yield from _some("left for the next run", report.passed_over)


def check_lines(report: "CheckReport") -> Iterator[str]:
    """What the gate said."""
    if not report.objects:
        yield "Nothing new to check."
        return
    passed = report.objects - len(report.held)
    yield (
        f"Checked {counted(report.objects, 'raw object')}: {passed:,} passed "
        f"({len(report.warned):,} with a note), {len(report.held):,} held."
    )
    yield from _some("held", [f"{one.object}: {'; '.join(one.reasons)}" for one in report.held])
    yield from _some("note", [f"{one.object}: {'; '.join(one.warnings)}" for one in report.warned])


def load_lines(report: "LoadReport", lake: str) -> Iterator[str]:
    """What the warehouse took in, and what waits for a decision."""
    moved = "Nothing new to load"
    if report.objects_moved:
        moved = f"Loaded, or taken out again: {counted(report.objects_moved, 'raw object')}"
    bursts, readings = counted(report.bursts, "burst"), counted(report.readings, "reading")
    yield f"{moved}; {bursts} and {readings} in all."
    if report.held:
        it = "it" if len(report.held) == 1 else "each of them"
        yield f"{counted(len(report.held), 'raw object')} held. Look at {it}, then decide:"
        for name in report.held[:SHOWN]:
            yield f"  motelake admit {lake} {name}    (or discard)"
        if len(report.held) > SHOWN:
            yield f"  ... and {len(report.held) - SHOWN:,} more, listed by 'motelake status'"


def publish_lines(report: "PublishReport") -> Iterator[str]:
    """Which snapshot is current, and what it took."""
    if report.is_new:
        parts, hours = counted(report.parts_written, "part"), counted(report.hours, "changed hour")
        yield f"Published snapshot {report.snapshot}: {parts} of {hours} written."
    else:
        yield f"Snapshot {report.snapshot} is current; nothing changed."
    if report.answers_made:
        yield f"Published {counted(len(report.answers_made), 'answer')}, listed in published/answers.json."
    if report.page_made:
        yield "Page: published/page.html, for a hall published/hall.html."
    yield from _some("no answer", report.answers_failed)
    yield from _some("missing on the page", report.page_failures)


def compact_lines(report: "CompactReport") -> Iterator[str]:
    """What was put together and removed."""
    if report.files_made:
        yield (
            f"{counted(report.files_merged, 'small file')} put together into {report.files_made:,}; "
            "the old ones go in a day."
        )
    else:
        yield "No small files to put together."
    if report.files_removed:
        yield f"{counted(report.files_removed, 'file')} removed, replaced or left over a day ago or earlier."
    yield from publish_lines(report.publish)


def _some(what: str, sentences: "list[str] | tuple[str, ...]") -> Iterator[str]:
    for sentence in sentences[:SHOWN]:
        yield f"  {what}: {sentence}"
    if len(sentences) > SHOWN:
        yield f"  ... and {len(sentences) - SHOWN:,} more {what}"
