"""The small warehouse of a share: an ordinary one with a few motes, and what of it the share answers for.

It is a cache. What is missing, of another version, of another lake or of other motes is made again from the
lake, so that a share may be worked on anywhere, and again anywhere else.
"""

from collections import defaultdict
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from threading import Lock
from time import monotonic, sleep
from typing import TYPE_CHECKING

import pyarrow as pa

from motelake.config import Config
from motelake.core.hashes import content_hash
from motelake.core.shares import Share
from motelake.errors import DamagedError, InputError, LockedError
from motelake.warehouse.parts import Part, prepare_parts, recorded_parts
from motelake.warehouse.statements import execute
from motelake.warehouse.store import open_warehouse, read_state, remove_warehouse, write_state

if TYPE_CHECKING:
    import duckdb

# A second copy of a task waits for the first: it then finds the work done.
PATIENCE = timedelta(hours=2)
_AT_WORK: defaultdict[Path, Lock] = defaultdict(Lock)
_MOTES, _TENURES = "share_motes", "share_tenures"
_EVER = (datetime(1, 1, 1, tzinfo=UTC), datetime(9999, 12, 31, tzinfo=UTC))


@dataclass(frozen=True)
class ShareReport:
    """All that a share says of itself, whole each time, so that saying it twice changes nothing.

    parts are those of the four large tables; references are the rows of mote_reference as a stream of Arrow;
    duplicates counts repeated lines by raw object; written names the parts put into the lake just now.
    """

    share: str
    parts: tuple[Part, ...]
    references: bytes
    duplicates: dict[str, int]
    written: tuple[str, ...]
    seconds: float

    def names(self) -> set[str]:
        """The names of all its parts, below published/."""
        return {part.name for part in self.parts}


@contextmanager
def share_warehouse(
    folder: Path, share: Share, config: Config, is_of_use: Callable[["duckdb.DuckDBPyConnection"], bool]
) -> Iterator["duckdb.DuckDBPyConnection"]:
    """The warehouse of a share in this folder, made where it is missing, of other motes or of no use.

    Waits while somebody else works on the same share here; raises LockedError where that takes hours.
    """
    file = folder / f"{share.name}.duckdb"
    own = replace(config, warehouse=file)
    # In one process DuckDB lets two into one file; they would meet in its rows.
    with _AT_WORK[file]:
        engine = _open(own)
        motes = content_hash(share.motes)
        if read_state(engine, _MOTES) not in (None, motes) or not is_of_use(engine):
            engine = _make_again(engine, own)
        try:
            write_state(engine, _MOTES, motes)
            prepare_parts(engine)
            yield engine
        finally:
            engine.close()


def take_tenures(engine: "duckdb.DuckDBPyConnection", share: Share, *, writes_all: bool) -> None:
    """Lays down which rows the share answers for; where that changed, every hour is to be written again."""
    rows = [(one.mote, one.from_at or _EVER[0], one.to_at or _EVER[1]) for one in share.tenures]
    engine.execute(
        "create or replace table work.tenure as select unnest($motes) as mote, "
        "unnest($from_ats) as from_at, unnest($to_ats) as to_at",
        dict(zip(("motes", "from_ats", "to_ats"), map(list, zip(*rows, strict=True)), strict=True)),
    )
    execute(engine, "shares/owned")
    said = content_hash(share.tenures)
    if writes_all or read_state(engine, _TENURES) != said:
        execute(engine, "shares/every_hour")
        write_state(engine, _TENURES, said)


def references_of(engine: "duckdb.DuckDBPyConnection") -> bytes:
    """The mote references of the share, as a stream of Arrow."""
    table = engine.sql("from mote_reference order by mote, measure, from_at").to_arrow_table()
    sink = pa.BufferOutputStream()
    with pa.ipc.new_stream(sink, table.schema) as stream:
        stream.write_table(table)
    return bytes(sink.getvalue())


def count_duplicates(engine: "duckdb.DuckDBPyConnection", share: Share) -> dict[str, int]:
    """How many lines of each raw object repeat what was known, of the motes that are at home in the share."""
    rows = engine.execute(
        "select object, count(*) from work.duplicate where mote in (select unnest($home)) "
        "group by object order by object",
        {"home": sorted(share.home)},
    ).fetchall()
    return dict(rows)


def parts_of(engine: "duckdb.DuckDBPyConnection") -> tuple[Part, ...]:
    """The parts of the share as they stand."""
    return tuple(recorded_parts(engine))


def _open(config: Config) -> "duckdb.DuckDBPyConnection":
    give_up_at = monotonic() + PATIENCE.total_seconds()
    while True:
        try:
            return open_warehouse(config)
        except LockedError:
            if monotonic() >= give_up_at:
                raise
            sleep(0.2)
        except (InputError, DamagedError):
            # Of another version, or damaged: it holds nothing that the lake does not.
            remove_warehouse(config.warehouse)


def _make_again(engine: "duckdb.DuckDBPyConnection", config: Config) -> "duckdb.DuckDBPyConnection":
    engine.close()
    remove_warehouse(config.warehouse)
    return _open(config)
