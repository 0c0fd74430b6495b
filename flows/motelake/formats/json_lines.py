"""JSON Lines, one burst a line: DuckDB takes the many lines of plain shape, json_line.py all others."""

from collections.abc import Iterator
from itertools import chain, islice

import pyarrow as pa

from motelake.formats.delivered import Delivered
from motelake.formats.json_line import read_json_line
from motelake.formats.json_shape import plain_shape_query
from motelake.formats.lines import LINE_SCHEMA, Lines, read_lines
from motelake.formats.plan import LineReject
from motelake.formats.staging import LINES, MOTES, Ledger

_FEW_LINES = 500
"""Up to here a line at a time in Python is quicker than the statements."""

_BLOCKS_AT_ONCE = 64
_LINES_AT_ONCE = 500_000
"""How much of an object is in memory at a time; a block is about 1 MiB."""

_ROWS_FETCHED = 2048


def read_json_lines(delivered: Delivered, ledger: Ledger) -> None:
    """Stages every line of an object, with the outcome that read_json_line defines."""
    lines = read_lines(delivered, ledger.plan.bytes_per_line)
    start = list(islice(lines, 3))
    is_small = len(start) < 3 and sum(part.batch.num_rows for part in start) <= _FEW_LINES
    if is_small or not ledger.plan.measures:
        for part in chain(start, lines):
            ledger.take_all(part.rejects)
            ledger.take_all(read_json_line(line, text, ledger.plan) for line, text in part.pairs())
        return
    source = _Source(chain(start, lines))
    while not source.is_at_end:
        _read_together(source, ledger)


class _Source:
    """Lines that DuckDB draws while it works, so that unpacking goes on beside it."""

    def __init__(self, lines: Iterator[Lines]) -> None:
        self._lines = lines
        self._next = next(lines, None)
        self.rejects: list[LineReject] = []
        self.failure: Exception | None = None

    @property
    def is_at_end(self) -> bool:
        return self._next is None

    def reader(self) -> pa.RecordBatchReader:
        return pa.RecordBatchReader.from_batches(LINE_SCHEMA, self._batches())

    def _batches(self) -> Iterator[pa.RecordBatch]:
        blocks = lines = 0
        while self._next is not None and blocks < _BLOCKS_AT_ONCE and lines < _LINES_AT_ONCE:
            part = self._next
            self.rejects += part.rejects
            blocks += 1
            lines += part.batch.num_rows + len(part.rejects)
            yield part.batch
            try:
                self._next = next(self._lines, None)
            except Exception as failure:
                # Raised later: what goes through DuckDB comes out as an error of DuckDB.
                self.failure, self._next = failure, None


def _read_together(source: _Source, ledger: Ledger) -> None:
    engine, plan = ledger.staging.engine, ledger.plan
    engine.register("delivered_line", source.reader())
    engine.execute(
        f"insert into {LINES} select $object, * from ({plain_shape_query(plan, MOTES)})",
        {"object": ledger.name, "starts_at": plan.starts_at, "accepts_until": plan.accepts_until},
    )
    (lines,) = engine.fetchone() or (0,)
    engine.unregister("delivered_line")
    if source.failure is not None:
        raise source.failure
    ledger.take_all(source.rejects)
    source.rejects.clear()
    ledger.lines_parsed += lines
    _count_unknown_names(ledger)
    _read_others_again(ledger)


def _count_unknown_names(ledger: Ledger) -> None:
    engine = ledger.staging.engine
    engine.execute(
        f"""
        select name, count(*)
        from (
            select unnest(unknown_names) as name from {LINES}
            where unknown_names is not null and other_text is null
        )
        group by name
        """
    )
    while rows := engine.fetchmany(_ROWS_FETCHED):
        for name, count in rows:
            ledger.dropped.add(name, count)
    engine.execute(f"update {LINES} set unknown_names = null where unknown_names is not null")


def _read_others_again(ledger: Ledger) -> None:
    engine = ledger.staging.engine
    others = engine.sql(f"select line, other_text from {LINES} where other_text is not null").to_arrow_table()
    if not others.num_rows:
        return
    engine.execute(f"delete from {LINES} where other_text is not null")
    ledger.lines_parsed -= others.num_rows
    for batch in others.to_batches(max_chunksize=_ROWS_FETCHED):
        for line, text in zip(*(column.to_pylist() for column in batch.columns), strict=True):
            ledger.take(read_json_line(line, text, ledger.plan))
