"""Where the hearings and rejects of many objects come together: temporary tables of a DuckDB connection."""

from collections import Counter
from collections.abc import Iterable

import duckdb
import pyarrow as pa

from motelake.formats.plan import DroppedNames, Hearing, LineReject, ObjectCount, ReadingPlan

HEARINGS = "staged_hearing"
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
_LINE_REJECT = pa.schema({"object": pa.string(), "line": pa.int64(), "reason": pa.string(), "mote": pa.string()})
_READING_REJECT = pa.schema(
    {"object": pa.string(), "line": pa.int64(), "mote": pa.string(), "measure": pa.string(), "reason": pa.string()}
)

Row = tuple[object, ...]


class Staging:
    """The temporary tables staged_hearing, staged_line_reject and staged_reading_reject, empty at first.

    staged_hearing has the columns of the hearing relation: object, line, mote, seq, gateway, received_at,
    rssi_dbm, battery_v and one reading_<measure> for each measure of the plan. Rows are complete in the
    tables after flush(). Tables of an earlier Staging on the same connection are replaced.
    """

    def __init__(self, engine: duckdb.DuckDBPyConnection, plan: ReadingPlan) -> None:
        self.engine = engine
        self.plan = plan
        readings = [pa.field(f"reading_{measure}", pa.float64()) for measure in plan.measures]
        self._schemas = {
            HEARINGS: pa.schema([*_HEARD, *readings]),
            LINE_REJECTS: _LINE_REJECT,
            READING_REJECTS: _READING_REJECT,
        }
        self._rows: dict[str, list[Row]] = {table: [] for table in self._schemas}
        for table, schema in self._schemas.items():
            self._run(f"create or replace temp table {table} as from rows", schema.empty_table())
        motes = pa.table({"mote": pa.array(sorted(plan.motes), pa.string())})
        self._run(f"create or replace temp table {MOTES} as from rows", motes)

    def add(self, table: str, row: Row) -> None:
        """Takes one row of the table, in the order of its columns."""
        rows = self._rows[table]
        rows.append(row)
        if len(rows) >= _ROWS_HELD:
            self.flush()

    def flush(self) -> None:
        """Writes all rows taken so far into their tables."""
        for table, rows in self._rows.items():
            if rows:
                schema = self._schemas[table]
                columns = [
                    pa.array(values, field.type) for values, field in zip(zip(*rows, strict=True), schema, strict=True)
                ]
                self._run(f"insert into {table} from rows", pa.table(columns, schema=schema))
                rows.clear()

    def forget(self, name: str) -> None:
        """Takes back every row of an object."""
        for table, rows in self._rows.items():
            rows[:] = [row for row in rows if row[0] != name]
            self.engine.execute(f"delete from {table} where object = ?", [name])

    def _run(self, statement: str, rows: pa.Table) -> None:
        self.engine.register("rows", rows)
        try:
            self.engine.execute(statement)
        finally:
            self.engine.unregister("rows")


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
        self.staging.add(HEARINGS, (*row, heard.rssi_dbm, heard.battery_v, *readings))
        self.reading_rejects += len(heard.reading_rejects)
        for measure, reason in heard.reading_rejects:
            self.staging.add(READING_REJECTS, (self.name, heard.line, heard.mote, measure, str(reason)))
        for name in heard.dropped:
            self.dropped.add(name)
