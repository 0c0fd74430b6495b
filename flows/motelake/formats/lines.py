"""Lines of an object with their numbers, as Arrow text that shares the memory of the block it came from."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pyarrow as pa

from motelake.core.reasons import LineReason
from motelake.formats.delivered import Delivered
from motelake.formats.plan import LineReject

LINE_SCHEMA = pa.schema(
    {"line": pa.int64(), "text": pa.large_string(), "quotes": pa.int32(), "commas": pa.int32()}
)

_NEWLINE = ord("\n")


@dataclass(frozen=True)
class Lines:
    """Some lines of an object in their order, and those among them that cannot be read as text.

    batch holds columns line (1-based), text (large_string, with the line's own line end), and how many quotes
    and commas stand in it. Empty lines are no lines: they are left out, but keep their number.
    """

    batch: pa.RecordBatch
    rejects: tuple[LineReject, ...]

    def pairs(self) -> Iterator[tuple[int, str]]:
        """Number and text of each line."""
        return zip(self.batch["line"].to_pylist(), self.batch["text"].to_pylist(), strict=True)


def read_lines(delivered: Delivered, bytes_per_line: int) -> Iterator[Lines]:
    """All lines of an object, about 1 MiB at a time; the last one needs no line end.

    Where the object is damaged, the line in which it breaks off is one reject: truncated.
    """
    next_number = 1
    tail = b""
    for block in delivered.blocks():
        data = tail + block
        cut = data.rfind(b"\n") + 1
        if cut:
            line_ends = np.flatnonzero(np.frombuffer(data, dtype=np.uint8, count=cut) == _NEWLINE)
            yield _split(data, line_ends, next_number, bytes_per_line)
            next_number += len(line_ends)
        # Of a line beyond the limit no more is kept than shows that it is.
        tail = data[cut : cut + bytes_per_line + 1]
    if delivered.is_damaged:
        yield Lines(
            pa.RecordBatch.from_pylist([], schema=LINE_SCHEMA),
            (LineReject(next_number, LineReason.TRUNCATED),),
        )
    elif tail:
        yield _split(tail + b"\n", np.array([len(tail)]), next_number, bytes_per_line)


def _split(data: bytes, line_ends: npt.NDArray[np.int64], first_number: int, bytes_per_line: int) -> Lines:
    offsets = np.zeros(len(line_ends) + 1, dtype=np.int64)
    offsets[1:] = line_ends + 1
    content = np.frombuffer(data, dtype=np.uint8, count=offsets[-1])
    text = pa.LargeBinaryArray.from_buffers(
        pa.large_binary(), len(line_ends), [None, pa.py_buffer(offsets), pa.py_buffer(data)]
    )
    columns = {
        "line": pa.array(np.arange(first_number, first_number + len(line_ends))),
        "text": text,
        "quotes": pa.array(_count(content, b'"', offsets)),
        "commas": pa.array(_count(content, b",", offsets)),
    }
    batch = pa.record_batch(columns)
    lengths = np.diff(offsets) - 1
    is_long = lengths > bytes_per_line
    rejects = _reject(batch, is_long, LineReason.LINE_TOO_LONG)
    is_kept = (lengths > 0) & ~is_long
    if not _is_utf8(text):
        is_text = _find_text(data, offsets)
        rejects += _reject(batch, is_kept & ~is_text, LineReason.NOT_UTF8)
        is_kept &= is_text
    batch = _keep(batch, is_kept)
    return Lines(batch.set_column(1, "text", batch["text"].view(pa.large_string())), rejects)


def _count(
    content: npt.NDArray[np.uint8], byte: bytes, offsets: npt.NDArray[np.int64]
) -> npt.NDArray[np.int32]:
    """How often the byte stands in each line; over a whole block that costs next to nothing."""
    is_there = (content == ord(byte)).view(np.uint8)
    return np.add.reduceat(is_there, offsets[:-1], dtype=np.int32)


def _keep(batch: pa.RecordBatch, is_kept: npt.NDArray[np.bool_]) -> pa.RecordBatch:
    return batch if is_kept.all() else batch.filter(pa.array(is_kept))


def _reject(
    batch: pa.RecordBatch, is_bad: npt.NDArray[np.bool_], reason: LineReason
) -> tuple[LineReject, ...]:
    if not is_bad.any():
        return ()
    return tuple(LineReject(line, reason) for line in batch["line"].filter(pa.array(is_bad)).to_pylist())


def _find_text(data: bytes, offsets: npt.NDArray[np.int64]) -> npt.NDArray[np.bool_]:
    """Which lines are UTF-8; a character that breaks off at a line end does not go on in the next line."""
    is_text = np.ones(len(offsets) - 1, dtype=bool)
    content = memoryview(data)[: offsets[-1]]
    start = 0
    while start < len(content):
        try:
            str(content[start:], "utf-8")
            break
        except UnicodeDecodeError as error:
            bad = int(np.searchsorted(offsets, start + error.start, side="right")) - 1
            is_text[bad] = False
            start = int(offsets[bad + 1])
    return is_text


def _is_utf8(text: pa.Array) -> bool:
    try:
        text.view(pa.large_string()).validate(full=True)
    except pa.ArrowInvalid:
        return False
    return True
