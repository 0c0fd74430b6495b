"""Elements of JSON arrays cut out of a stream of bytes one by one, so that no array has to fit in memory."""

import re
from collections.abc import Iterable, Iterator
from enum import Enum, auto

_OUTSIDE_TEXT = re.compile(rb'[\[\]{}",]')
_INSIDE_TEXT = re.compile(rb'["\\]')
LEVELS_PER_LINE = 64
"""How deep brackets may nest, so that no reader runs out of stack on a line."""

_SPACE = b" \t\r\n"


class Mark(Enum):
    """What there is in the stream beside elements."""

    ARRAY = auto()
    """An array begins."""
    TOO_LONG = auto()
    """An element longer than allowed."""
    GARBLED = auto()
    """Something else stands where an array should begin or end; nothing after it can be read."""


class _Cutter:
    """Where the reading stands: how deep in brackets, whether inside a text, and the element so far."""

    def __init__(self, longest: int) -> None:
        self.longest = longest
        self.level = 0
        self.is_in_text = False
        self.is_after_comma = False
        self.element = bytearray()

    def keep(self, piece: bytes) -> None:
        room = self.longest + 1 - len(self.element)
        self.element += piece[:room] if self.element else piece.lstrip(_SPACE)[:room]

    def end_element(self, delimiter: bytes) -> Iterator[bytes | Mark]:
        element, self.element = bytes(self.element), bytearray()
        if len(element) > self.longest:
            yield Mark.TOO_LONG
        elif element or self.is_after_comma or delimiter == b",":
            yield element.rstrip(_SPACE)
        self.is_after_comma = delimiter == b","


def cut_elements(blocks: Iterable[bytes], longest: int) -> Iterator[bytes | Mark]:
    """The elements of one array or of several, one after another, as they are written.

    Brackets are counted here, not matched: whether an element is JSON is found where it is read.
    """
    cutter = _Cutter(longest)
    is_escaped = False
    for block in blocks:
        at = 0
        while at < len(block):
            if cutter.level == 0:
                rest = block[at:].lstrip(_SPACE)
                if not rest:
                    break
                if not rest.startswith(b"["):
                    yield Mark.GARBLED
                    return
                at = len(block) - len(rest) + 1
                cutter.level, cutter.is_after_comma = 1, False
                yield Mark.ARRAY
            elif is_escaped:
                cutter.keep(block[at : at + 1])
                at, is_escaped = at + 1, False
            else:
                found = (_INSIDE_TEXT if cutter.is_in_text else _OUTSIDE_TEXT).search(block, at)
                end = found.end() if found else len(block)
                token = found.group() if found else b""
                if cutter.level == 1 and token in (b",", b"]", b"}"):
                    cutter.keep(block[at : end - 1])
                    if token == b"}":
                        yield Mark.GARBLED
                        return
                    yield from cutter.end_element(token)
                else:
                    cutter.keep(block[at:end])
                cutter.level += {b"[": 1, b"{": 1, b"]": -1, b"}": -1}.get(token, 0)
                if cutter.level > LEVELS_PER_LINE:
                    yield Mark.GARBLED
                    return
                cutter.is_in_text ^= token == b'"'
                is_escaped = token == b"\\"
                at = end
    if cutter.level:
        yield Mark.GARBLED
