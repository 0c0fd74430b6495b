"""Lines of an object with their numbers, as Arrow text that shares the memory of the block it came from."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pyarrow as pa

from motelake.core.bursts import LineReason
from motelake.formats.delivered import Delivered
from motelake.formats.plan import LineReject

_NEWLINE = ord("\n")


@dataclass(frozen=True)
class Lines:
    """Some lines of an object in their order, and those among them that cannot be read as text.

    batch holds columns line (1-based) and text (large_string, with the line's own line end). Empty lines are
    no lines: they are left out, but keep their number.
    """

    batch: pa.RecordBatch
    rejects: tuple[LineReject, ...]

    def pairs(self) -> Iterator[tuple[int, str]]:
        """Number and text of each line."""
        numbers, texts = (column.to_pylist() for column in self.batch.columns)
        return zip(numbers, texts, strict=True)


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
            _batch([], pa.array([], pa.large_string())), (LineReject(next_number, LineReason.TRUNCATED),)
        )
    elif tail:
        yield _split(tail + b"\n", np.array([len(tail)]), next_number, bytes_per_line)


def _split(data: bytes, line_ends: npt.NDArray[np.int64], first_number: int, bytes_per_line: int) -> Lines:
    offsets = np.zeros(len(line_ends) + 1, dtype=np.int64)
    offsets[1:] = line_ends + 1
    text = pa.LargeBinaryArray.from_buffers(
        pa.large_binary(), len(line_ends), [None, pa.py_buffer(offsets), pa.py_buffer(data)]
    )
    numbers = np.arange(first_number, first_number + len(line_ends))
    lengths = np.diff(offsets) - 1
    is_long = lengths > bytes_per_line
    is_kept = (lengths > 0) & ~is_long
    rejects = [LineReject(int(number), LineReason.LINE_TOO_LONG) for number in numbers[is_long]]
    if not is_kept.all():
        text, numbers = text.filter(pa.array(is_kept)), numbers[is_kept]
    if not _is_utf8(text):
        is_text = np.array([_is_utf8(text[i : i + 1]) for i in range(len(text))], dtype=bool)
        rejects += [LineReject(int(number), LineReason.NOT_UTF8) for number in numbers[~is_text]]
        text, numbers = text.filter(pa.array(is_text)), numbers[is_text]
    return Lines(_batch(numbers, text.view(pa.large_string())), tuple(rejects))


def _batch(numbers: npt.ArrayLike, text: pa.Array) -> pa.RecordBatch:
    return pa.record_batch([pa.array(numbers, pa.int64()), text], names=["line", "text"])


def _is_utf8(text: pa.Array) -> bool:
    try:
        text.view(pa.large_string()).validate(full=True)
    except pa.ArrowInvalid:
        return False
    return True
