"""Where the hearings and rejects of many objects come together: temporary tables of a DuckDB connection."""

from collections import Counter
from collections.abc import Iterable
from typing import Self

import duckdb
import pyarrow as pa

from motelake.formats.plan import DroppedNames, Hearing, LineReject, ObjectCount, ReadingPlan

HEARINGS = "staged_hearing"
LINES = "staged_line"
LINE_REJECTS = "staged_line_reject"
READING_REJECTS = "staged_reading_reject"
MOTES = "staging_mote"

_ROWS_HELD = 20_000
"""Rows are written together, so that a statement is not paid for each of many small objects."""

_HEARD = pa.schema(
    {
        "object": pa.string(),
        "line": pa.int64(),
        "mote": pa.string(),
        "seq": pa.int64(),
        "gateway": pa.string(),
        "received_at": pa.timestamp("us", tz="UTC"),
        "rssi_dbm": pa.float64(),
        "battery_v": pa.float64(),
    }
)
_UNSETTLED = pa.schema({"unknown_names": pa.list_(pa.string()), "other_text": pa.string()})
"""What JSON Lines keeps beside a row until the object is done; null in every row of staged_hearing."""

_LINE_REJECT = pa.schema(
    {"object": pa.string(), "line": pa.int64(), "reason": pa.string(), "mote": pa.string()}
)
_READING_REJECT = pa.schema(
    {
        "object": pa.string(),
        "line": pa.int64(),
        "mote": pa.string(),
        "measure": pa.string(),
        "reason": pa.string(),
    }
)

Row = tuple[object, ...]


class Staging:
    """The temporary relations staged_hearing, staged_line_reject and staged_reading_reject, empty at first.

    staged_hearing has the columns of the hearing relation: object, line, mote, seq, gateway, received_at,
    rssi_dbm, battery_v and one reading_<measure> for each measure of the plan. Used in a with statement,
    which is one transaction of the connection: at its end all rows are there, or none where it failed.
    """

    def __init__(self, engine: duckdb.DuckDBPyConnection, plan: ReadingPlan) -> None:
        self.engine = engine
        self.plan = plan
        readings = [pa.field(f"reading_{measure}", pa.float64()) for measure in plan.measures]
        self._schemas = {
            LINES: pa.schema([*_HEARD, *readings, *_UNSETTLED]),
            LINE_REJECTS: _LINE_REJECT,
            READING_REJECTS: _READING_REJECT,
        }
        self._rows: dict[str, list[Row]] = {table: [] for table in self._schemas}
        for table, schema in self._schemas.items():
            self._run(f"create or replace temp table {table} as from rows", schema.empty_table())
        self._run(f"create or replace temp table {MOTES} as from rows", _motes(plan))
        columns = ", ".join(f'"{column}"' for column in [*_HEARD.names, *(field.name for field in readings)])
        engine.execute(f"create or replace temp view {HEARINGS} as select {columns} from {LINES}")

    def __enter__(self) -> Self:
        # Small appends are copied once more when they are committed: one transaction spares that.
        self.engine.execute("begin")
        return self

    def __exit__(self, kind: type[BaseException] | None, *_: object) -> None:
        if kind is None:
            self._write()
            self.engine.execute("commit")
        else:
            self.engine.execute("rollback")

    def add(self, table: str, row: Row) -> None:
        """Takes one row of the table, in the order of its columns."""
        rows = self._rows[table]
        rows.append(row)
        if len(rows) >= _ROWS_HELD:
            self._write()

    def forget(self, name: str) -> None:
        """Takes back every row of an object."""
        for table, rows in self._rows.items():
            rows[:] = [row for row in rows if row[0] != name]
            self.engine.execute(f"delete from {table} where object = ?", [name])

    def _write(self) -> None:
        for table, rows in self._rows.items():
            if rows:
                schema = self._schemas[table]
                values = zip(zip(*rows, strict=True), schema, strict=True)
                columns = [pa.array(column, field.type) for column, field in values]
                self._run(f"insert into {table} from rows", pa.table(columns, schema=schema))
                rows.clear()

    def _run(self, statement: str, rows: pa.Table) -> None:
        self.engine.register("rows", rows)
        try:
            self.engine.execute(statement)
        finally:
            self.engine.unregister("rows")


def _motes(plan: ReadingPlan) -> pa.Table:
    names = sorted(plan.motes)
    return pa.table(
        {
            "mote": pa.array(names, pa.string()),
            "quoted": pa.array([f'"{name}"' for name in names], pa.string()),
        }
    )


class Ledger:
    """Account of one object while it is read: each line goes through take() or is counted once."""

    def __init__(self, name: str, staging: Staging) -> None:
        self.name = name
        self.staging = staging
        self.plan = staging.plan
        self.lines_parsed = 0
        self.rejected: Counter[str] = Counter()
        self.reading_rejects = 0
        self.dropped = DroppedNames()

    def take(self, outcome: Hearing | LineReject | None) -> None:
        """Stages what became of one line; None is no line."""
        if isinstance(outcome, LineReject):
            self.rejected[outcome.reason] += 1
            row: Row = (self.name, outcome.line, str(outcome.reason), outcome.mote)
            self.staging.add(LINE_REJECTS, row)
        elif outcome is not None:
            self.lines_parsed += 1
            self._take_hearing(outcome)

    def take_all(self, outcomes: Iterable[Hearing | LineReject | None]) -> None:
        """Stages what became of several lines."""
        for outcome in outcomes:
            self.take(outcome)

    def count(self, size: int, sha256: str) -> ObjectCount:
        """The account as it stands."""
        return ObjectCount(
            name=self.name,
            size=size,
            sha256=sha256,
            lines_parsed=self.lines_parsed,
            rejected={str(reason): n for reason, n in sorted(self.rejected.items())},
            reading_rejects=self.reading_rejects,
            dropped=self.dropped.counts(),
        )

    def _take_hearing(self, heard: Hearing) -> None:
        readings = [heard.readings.get(measure) for measure in self.plan.measures]
        row: Row = (self.name, heard.line, heard.mote, heard.seq, heard.gateway, heard.received_at)
        self.staging.add(LINES, (*row, heard.rssi_dbm, heard.battery_v, *readings, None, None))
        self.reading_rejects += len(heard.reading_rejects)
        for measure, reason in heard.reading_rejects:
            self.staging.add(READING_REJECTS, (self.name, heard.line, heard.mote, measure, str(reason)))
        for name in heard.dropped:
            self.dropped.add(name)
