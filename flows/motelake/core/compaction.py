"""What of the small files is put together, and where the rows of a file lie afterwards.

Every batch writes a file for each day it touches, and up to two of rejects: at a run every five minutes some
three hundred of each a day. A compaction is a manifest without objects that names new files and, for each,
the old ones it took over.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta

from motelake.core.hashes import content_hash
from motelake.core.manifests import Manifest, rejects_name, staged_name

HEALTHY_BYTES = 128 * 2**20
"""What a file is filled up to; one of half this size is left as it is."""


@dataclass(frozen=True)
class Merge:
    """Staged files of one UTC day, or files of rejects (day is None), that become one.

    left_out pairs a file with an object that was staged again since. The name comes from what is put
    together, so that a compaction after a crash writes over what it left.
    """

    day: date | None
    files: tuple[str, ...]
    left_out: tuple[tuple[str, str], ...]

    @property
    def name(self) -> str:
        """Where the new file lies in the lake."""
        content = content_hash({"files": self.files, "left_out": self.left_out})[:32]
        return rejects_name(content) if self.day is None else staged_name(content, str(self.day))


def batches_of(manifests: Iterable[Manifest]) -> list[Manifest]:
    """The manifests that staged something: compactions are left out."""
    return [manifest for manifest in manifests if manifest.objects]


def taken_over(manifests: Iterable[Manifest]) -> dict[str, str]:
    """By the name of each staged file that a compaction took over, the file it went into."""
    return {old: new for manifest in manifests for new, olds in manifest.replaces.items() for old in olds}


def files_now(staged: Iterable[str], moved: Mapping[str, str]) -> list[str]:
    """The files that hold now what these held, each once; moved is as taken_over gives it."""
    found: dict[str, None] = {}
    for name in staged:
        place = name
        while place in moved:
            place = moved[place]
        found[place] = None
    return list(found)


def files_of(manifest: Manifest) -> list[str]:
    """The files that a manifest wrote: staged ones, then those of its rejects."""
    return [*manifest.staged, *reject_files(manifest)]


def reject_files(manifest: Manifest) -> list[str]:
    """The files of the rejects of a manifest: of lines, of single readings."""
    return [name for name in (manifest.rejects, manifest.reading_rejects) if name]


def living_files(manifests: Sequence[Manifest]) -> dict[str, int]:
    """Every file that a load may still read, with the number of the manifest that wrote it."""
    moved = taken_over(manifests)
    written = {name: manifest.number for manifest in manifests for name in files_of(manifest)}
    return {name: number for name, number in written.items() if name not in moved}


def plan_merges(
    manifests: Sequence[Manifest], sizes: Mapping[str, int], now: datetime, healthy_bytes: int = HEALTHY_BYTES
) -> list[Merge]:
    """The merges that are due, rejects first, then day by day; sizes holds the bytes of files as listed.

    Rejects have no day; they are put together once the days are over that their batch staged.
    """
    living = {name: number for name, number in living_files(manifests).items() if name in sizes}
    days = {name: day_of(name) for manifest in manifests for name in manifest.staged}
    newest = max((days[name] for name in living if name in days), default=date.min)
    young = {
        manifest.number
        for manifest in manifests
        if not all(is_over(days[name], newest, now) for name in manifest.staged)
    }
    by_day: dict[date | None, list[str]] = {}
    for name, number in sorted(living.items(), key=lambda item: (item[1], item[0])):
        day = days.get(name)
        is_ripe = number not in young if day is None else is_over(day, newest, now)
        if is_ripe and sizes[name] < healthy_bytes / 2:
            by_day.setdefault(day, []).append(name)
    old = _staged_again(manifests)
    return [
        Merge(day, group, tuple((file, name) for file in group for name in old.get(living[file], ())))
        for day, names in sorted(by_day.items(), key=lambda item: item[0] or date.min)
        for group in _groups(names, sizes, healthy_bytes)
    ]


def day_of(name: str) -> date:
    """The UTC day of a staged file's hearings."""
    return date.fromisoformat(name.split("/")[1].removeprefix("day="))


def is_over(day: date, newest: date, now: datetime) -> bool:
    """True where nothing but stragglers can come for a UTC day: a later one has begun to come, or passed."""
    return day < newest or datetime(day.year, day.month, day.day, tzinfo=UTC) + timedelta(days=1) <= now


def _groups(names: Sequence[str], sizes: Mapping[str, int], healthy_bytes: int) -> Iterator[tuple[str, ...]]:
    group: list[str] = []
    for name in names:
        if group and sum(sizes[one] for one in group) + sizes[name] > healthy_bytes:
            if len(group) > 1:
                yield tuple(group)
            group = []
        group.append(name)
    if len(group) > 1:
        yield tuple(group)


def _staged_again(manifests: Sequence[Manifest]) -> dict[int, list[str]]:
    """By the number of each manifest, the objects that its files may hold as they were staged before."""
    first: dict[str, int] = {}
    last: dict[str, int] = {}
    for manifest in manifests:
        for one in manifest.objects:
            first.setdefault(one.name, manifest.number)
            last[one.name] = manifest.number
    again = sorted(name for name in first if first[name] < last[name])
    old = {}
    for manifest in manifests if again else ():
        # A compaction's files hold objects of any manifest before it.
        own = {one.name for one in manifest.objects} or again
        old[manifest.number] = [
            name for name in again if name in own and first[name] <= manifest.number < last[name]
        ]
    return old
