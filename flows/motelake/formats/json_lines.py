"""JSON Lines, one burst a line: DuckDB takes the many lines of plain shape, json_line.py all others."""

from collections.abc import Iterator
from itertools import chain

import numpy as np
import pyarrow as pa

from motelake.formats.json_line import read_json_line
from motelake.formats.json_shape import plain_shape_query
from motelake.formats.ledger import Ledger
from motelake.formats.lines import LINE_SCHEMA, Lines
from motelake.formats.plan import LineReject
from motelake.formats.staging import Staging
from motelake.formats.tables import LINES, MOTES

_FEW_LINES = 500
"""Up to here a line at a time in Python is quicker than the statements."""

_BYTES_AT_ONCE = 64 * 2**20
_LINES_AT_ONCE = 500_000
"""How much text one statement takes, of however many objects: those of other shape are in memory with it."""

_ROWS_FETCHED = 2048

_NUMBER = pa.field("object_number", pa.int32())
_SCHEMA = pa.schema([_NUMBER, *LINE_SCHEMA])

Drawn = Iterator[tuple[Ledger, Lines]]


def read_json_lines(drawn: Drawn, staging: Staging) -> None:
    """Stages every line, with the outcome that read_json_line defines."""
    start: list[tuple[Ledger, Lines]] = []
    lines = 0
    for ledger, part in drawn:
        start.append((ledger, part))
        lines += part.batch.num_rows
        if lines > _FEW_LINES:
            break
    if lines <= _FEW_LINES or not staging.plan.measures:
        for ledger, part in chain(start, drawn):
            ledger.take_all(part.rejects)
            ledger.take_all(read_json_line(line, text, staging.plan) for line, text in part.pairs())
        return
    source = _Source(chain(start, drawn))
    while not source.is_at_end:
        _read_together(source, staging)


class _Source:
    """Lines that DuckDB draws while it works, so that unpacking goes on beside it."""

    def __init__(self, drawn: Drawn) -> None:
        self._drawn = drawn
        self._next = next(drawn, None)
        self.rejects: list[tuple[Ledger, LineReject]] = []
        self.failure: Exception | None = None

    @property
    def is_at_end(self) -> bool:
        return self._next is None

    def reader(self) -> pa.RecordBatchReader:
        return pa.RecordBatchReader.from_batches(_SCHEMA, self._batches())

    def _batches(self) -> Iterator[pa.RecordBatch]:
        size = lines = 0
        while self._next is not None and size < _BYTES_AT_ONCE and lines < _LINES_AT_ONCE:
            ledger, part = self._next
            self.rejects += [(ledger, reject) for reject in part.rejects]
            size += part.batch["text"].nbytes
            lines += part.batch.num_rows + len(part.rejects)
            number = pa.array(np.full(part.batch.num_rows, ledger.number, dtype=np.int32))
            yield part.batch.add_column(0, _NUMBER, number)
            try:
                self._next = next(self._drawn, None)
            except Exception as failure:
                # Raised later: what goes through DuckDB comes out as an error of DuckDB.
                self.failure, self._next = failure, None


def _read_together(source: _Source, staging: Staging) -> None:
    engine, plan = staging.engine, staging.plan
    engine.register("delivered_line", source.reader())
    engine.execute(
        f"insert into {LINES} {plain_shape_query(plan, MOTES)}",
        {"starts_at": plan.starts_at, "accepts_until": plan.accepts_until},
    )
    engine.unregister("delivered_line")
    if source.failure is not None:
        raise source.failure
    for ledger, reject in source.rejects:
        ledger.take(reject)
    source.rejects.clear()
    _read_others_again(staging)


def _read_others_again(staging: Staging) -> None:
    columns = "object_number, line, other_text"
    others = staging.engine.sql(
        f"select {columns} from {LINES} where other_text is not null"
    ).to_arrow_table()
    if not others.num_rows:
        return
    staging.engine.execute(f"delete from {LINES} where other_text is not null")
    for batch in others.to_batches(max_chunksize=_ROWS_FETCHED):
        for number, line, text in zip(*(column.to_pylist() for column in batch.columns), strict=True):
            staging.ledgers[number].take(read_json_line(line, text, staging.plan))
