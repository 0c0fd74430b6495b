"""Published answers: every question that needs nothing given, as Parquet under a name that stays.

A dashboard reads published/answers/<area>.<view>.parquet without motelake. Each answer is whole and says of
which snapshot it is; how often it is made again is said beside the question.
"""

import json
from collections.abc import Callable, Collection, Mapping
from datetime import datetime
from io import BytesIO
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING, Any, NamedTuple

from motelake.core.instants import format_instant
from motelake.core.published import REFRESHES
from motelake.core.sentences import Say
from motelake.errors import QueryError
from motelake.lake.store import Lake
from motelake.library import Entry, Library
from motelake.warehouse.asked import asked_of_warehouse, interrupted_after, write_answer

if TYPE_CHECKING:
    import duckdb

ANSWERS_FILE = "published/answers.json"
# Seconds of computing; at four days of 500 motes the dearest question needs a third of it.
ANSWER_AT_MOST_S = 30.0


class Answers(NamedTuple):
    """The names of the answers made, and of those that failed and stay as they were."""

    made: list[str]
    failed: list[str]


def publish_answers(
    lake: Lake,
    engine: "duckdb.DuckDBPyConnection",
    library: Library,
    snapshot: str,
    say: Say,
    *,
    refresh: Collection[str],
    now: datetime,
    work_folder: Path | None = None,
) -> Answers:
    """Makes the answers of these kinds that are not of this snapshot yet."""
    records = _read_records(lake)
    offered = {entry.name: entry for entry in library.questions() if _is_answerable(entry)}
    due = [
        entry
        for name, entry in offered.items()
        if entry.refresh in refresh and records.get(name, {}).get("snapshot") != snapshot
    ]
    withdrawn = sorted(records.keys() - offered.keys())
    if not due and not withdrawn:
        return Answers([], [])
    answers = Answers([], [])
    with (
        TemporaryDirectory(dir=work_folder, prefix="motelake-answers-") as folder,
        asked_of_warehouse(engine, library, due),
    ):
        for entry in due:
            record = _record(entry, snapshot, now)
            file = Path(folder) / "answer.parquet"
            try:
                with interrupted_after(engine, ANSWER_AT_MOST_S):
                    record["rows"] = write_answer(engine, _query(entry), file, _said(record))
            except QueryError as error:
                say(f"{entry.name} could not be answered, its old answer stays: {error}")
                answers.failed.append(entry.name)
                continue
            lake.put_file(file, f"published/{record['file']}")
            records[entry.name] = record
            answers.made.append(entry.name)
    for name in withdrawn:
        lake.remove(f"published/{records.pop(name)['file']}")
    listed = [records[name] for name in sorted(records)]
    lake.write(ANSWERS_FILE, (json.dumps({"answers": listed}, indent=1) + "\n").encode())
    return answers


def published_rows(lake: Lake, snapshot: str) -> Callable[[str], list[dict[str, Any]] | None]:
    """Gives the rows of an answer by its name where it is published for this snapshot, else None."""
    records = _read_records(lake)

    def find(view: str) -> list[dict[str, Any]] | None:
        import pyarrow.parquet as pq

        record = records.get(view)
        if record is None or record.get("snapshot") != snapshot:
            return None
        try:
            table = pq.read_table(BytesIO(lake.read(f"published/{record['file']}")))
        except (FileNotFoundError, ValueError):
            return None
        # Another publisher may have put an answer of a later snapshot there since the list was read.
        said = (table.schema.metadata or {}).get(b"snapshot", b"").decode()
        rows: list[dict[str, Any]] = table.to_pylist()
        return rows if said == snapshot else None

    return find


def _is_answerable(entry: Entry) -> bool:
    needs_a_value = any(parameter.is_required for parameter in entry.parameters)
    return entry.refresh in REFRESHES and not needs_a_value


def _query(entry: Entry) -> str:
    return f"select * from {entry.name}" + ("()" if entry.kind == "macro" else "")


def _record(entry: Entry, snapshot: str, now: datetime) -> dict[str, Any]:
    return {
        "name": entry.name,
        "file": f"answers/{entry.name}.parquet",
        "question": entry.question,
        "grain": entry.grain,
        "refresh": entry.refresh,
        "snapshot": snapshot,
        "refreshed_at": format_instant(now),
        "columns": [
            {"name": column.name, "type": column.type, "unit": column.unit, "meaning": column.doc}
            for column in entry.columns
        ],
    }


def _said(record: Mapping[str, Any]) -> dict[str, str]:
    return {key: record[key] for key in ("name", "snapshot", "refreshed_at")}


def _read_records(lake: Lake) -> dict[str, dict[str, Any]]:
    try:
        listed = json.loads(lake.read(ANSWERS_FILE))["answers"]
        return {record["name"]: record for record in listed}
    except (FileNotFoundError, ValueError, KeyError, TypeError):
        # The list is made from what is published: one that is missing or damaged is made anew.
        return {}
