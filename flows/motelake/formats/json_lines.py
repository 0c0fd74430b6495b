"""JSON Lines, one burst a line: DuckDB takes the many lines of plain shape, json_line.py all others."""

from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
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
"""How much text one statement takes, of however many objects; as much again is drawn meanwhile."""

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
    portions = _portions(chain(start, drawn))
    with ThreadPoolExecutor(1) as ahead:
        coming = ahead.submit(next, portions, None)
        while (portion := coming.result()) is not None:
            # The next portion is unpacked while DuckDB parses this one.
            coming = ahead.submit(next, portions, None)
            _read_portion(portion, staging)


@dataclass
class _Portion:
    """Lines that one statement reads, and those that were rejected before it."""

    batches: list[pa.RecordBatch] = field(default_factory=list)
    rejects: list[tuple[Ledger, LineReject]] = field(default_factory=list)
    size: int = 0
    lines: int = 0

    def add(self, ledger: Ledger, part: Lines) -> None:
        self.rejects += [(ledger, reject) for reject in part.rejects]
        number = pa.array(np.full(part.batch.num_rows, ledger.number, dtype=np.int32))
        self.batches.append(part.batch.add_column(0, _NUMBER, number))
        self.size += part.batch["text"].nbytes
        self.lines += part.batch.num_rows + len(part.rejects)

    @property
    def is_full(self) -> bool:
        return self.size >= _BYTES_AT_ONCE or self.lines >= _LINES_AT_ONCE


def _portions(drawn: Drawn) -> Iterator[_Portion]:
    portion = _Portion()
    for ledger, part in drawn:
        portion.add(ledger, part)
        if portion.is_full:
            yield portion
            portion = _Portion()
    yield portion


def _read_portion(portion: _Portion, staging: Staging) -> None:
    engine, plan = staging.engine, staging.plan
    engine.register("delivered_line", pa.Table.from_batches(portion.batches, _SCHEMA))
    engine.execute(
        f"insert into {LINES} {plain_shape_query(plan, MOTES)}",
        {"starts_at": plan.starts_at, "accepts_until": plan.accepts_until},
    )
    engine.unregister("delivered_line")
    for ledger, reject in portion.rejects:
        ledger.take(reject)
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
