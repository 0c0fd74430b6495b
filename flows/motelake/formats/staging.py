"""Where the hearings and rejects of many objects come together: temporary tables of a DuckDB connection."""

from collections.abc import Collection
from typing import Self

import duckdb
import pyarrow as pa

from motelake.formats.ledger import Ledger
from motelake.formats.plan import ReadingPlan
from motelake.formats.tables import (
    HEARINGS,
    LINE_REJECTS,
    LINES,
    MOTES,
    OBJECTS,
    READING_REJECTS,
    Row,
    hearings_query,
    mote_table,
    table_schemas,
)

_ROWS_HELD = 20_000
"""Rows are written together, so that a statement is not paid for each of many small objects."""

_ROWS_FETCHED = 2048


class Staging:
    """The temporary relations staged_hearing, staged_line_reject and staged_reading_reject, empty at first.

    staged_hearing has the columns of the hearing relation: object, line, mote, seq, gateway, received_at,
    rssi_dbm, battery_v and one reading_<measure> for each measure of the plan. Used in a with statement: at
    its end all rows are there, or none where it failed.
    """

    def __init__(self, engine: duckdb.DuckDBPyConnection, plan: ReadingPlan) -> None:
        self.engine = engine
        self.plan = plan
        self.ledgers: list[Ledger] = []
        self._schemas = table_schemas(plan)
        self._rows: dict[str, list[Row]] = {table: [] for table in self._schemas}
        self._empty()
        self._run(f"create or replace temp table {MOTES} as from rows", mote_table(plan))
        engine.execute(f"create or replace temp view {HEARINGS} as {hearings_query(plan)}")

    def __enter__(self) -> Self:
        return self

    def __exit__(self, kind: type[BaseException] | None, *_: object) -> None:
        # Not a transaction: where rows leave in the one that made them, DuckDB copies all rows at its end.
        if kind is not None:
            self._empty()

    def begin(self, name: str) -> Ledger:
        """The account of an object that is about to be read."""
        ledger = Ledger(name, len(self.ledgers), self.plan, self._add)
        self.ledgers.append(ledger)
        self._rows[OBJECTS].append((ledger.number, name))
        return ledger

    def settle(self, ledgers: Collection[Ledger]) -> None:
        """Completes the accounts of objects that were read, and takes back what may not stay."""
        self._write()
        self.forget([ledger.name for ledger in ledgers if not ledger.is_kept])
        counts = self.engine.execute(f"select object_number, count(*) from {LINES} group by object_number")
        for number, lines in counts.fetchall():
            self.ledgers[number].lines_parsed = lines
        first = min((ledger.number for ledger in ledgers), default=0)
        self.engine.execute(
            f"""
            select object_number, name, count(*)
            from (
                select object_number, unnest(unknown_names) as name from {LINES}
                where unknown_names is not null and object_number >= $first
            )
            group by object_number, name
            """,
            {"first": first},
        )
        while rows := self.engine.fetchmany(_ROWS_FETCHED):
            for number, name, count in rows:
                self.ledgers[number].dropped.add(name, count)

    def forget(self, names: Collection[str]) -> None:
        """Takes back every row of these objects, which have been settled."""
        if not names:
            return
        numbers = [ledger.number for ledger in self.ledgers if ledger.name in set(names)]
        self.engine.execute(f"delete from {LINES} where object_number in (select unnest($1))", [numbers])
        for table in (LINE_REJECTS, READING_REJECTS):
            self.engine.execute(f"delete from {table} where object in (select unnest($1))", [list(names)])

    def _empty(self) -> None:
        for table, schema in self._schemas.items():
            self._run(f"create or replace temp table {table} as from rows", schema.empty_table())

    def _add(self, table: str, row: Row) -> None:
        rows = self._rows[table]
        rows.append(row)
        if len(rows) >= _ROWS_HELD:
            self._write()

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
