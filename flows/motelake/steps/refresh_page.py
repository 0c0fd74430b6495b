"""When the page is made again; what it is made with is imported only then."""

import json
from dataclasses import dataclass
from datetime import datetime, timedelta
from time import monotonic
from typing import NamedTuple

from motelake.config import Config
from motelake.core.instants import format_instant
from motelake.core.sentences import Say
from motelake.lake.store import Lake
from motelake.library import Library

RECORD_FILE = "published/page.json"
# A scheduled run every few minutes must stay cheap, and nobody reads a page that often.
LEAST_AGE = timedelta(hours=1)


class Made(NamedTuple):
    """Whether a page was made, and the parts and pictures of it that failed, each with its reason."""

    is_made: bool
    failures: tuple[str, ...] = ()


def refresh_page(
    lake: Lake,
    config: Config,
    library: Library,
    snapshot: str,
    say: Say,
    *,
    is_asked: bool,
    now: datetime,
) -> Made:
    """Makes the page where it is missing, asked for, or of another snapshot and an hour old."""
    record = _read_record(lake)
    if record is not None and (
        record.snapshot == snapshot or not (is_asked or now - record.made_at >= LEAST_AGE)
    ):
        return Made(is_made=False)
    from motelake.steps.page import PAGE_FILE, make_page

    started = monotonic()
    pages = make_page(lake, config, library, now=now)
    for name, page in pages.files.items():
        lake.write(name, page)
    record = PageRecord(snapshot, now)
    lake.write(RECORD_FILE, record.to_json())
    say(f"page of {len(pages.files[PAGE_FILE]) / 1e6:.1f} MB made in {monotonic() - started:.1f} s")
    return Made(is_made=True, failures=pages.failures)


@dataclass(frozen=True)
class PageRecord:
    """Of which snapshot the page is, and when it was made."""

    snapshot: str
    made_at: datetime

    def to_json(self) -> bytes:
        """The record as it stands beside the page."""
        return (
            json.dumps({"snapshot": self.snapshot, "made_at": format_instant(self.made_at)}).encode() + b"\n"
        )


def _read_record(lake: Lake) -> PageRecord | None:
    try:
        said = json.loads(lake.read(RECORD_FILE))
        return PageRecord(said["snapshot"], datetime.fromisoformat(said["made_at"]))
    except (FileNotFoundError, ValueError, KeyError, TypeError):
        # Told from the page anew: a record that is missing or damaged costs one page.
        return None
