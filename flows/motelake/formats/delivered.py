"""The bytes of an object as they were delivered: unpacked piece by piece, counted and hashed on the way."""

import hashlib
from collections.abc import Iterator
from typing import BinaryIO, cast

import zstandard
from isal import isal_zlib

BLOCK_BYTES = 2**20
_GzipError = cast(type[Exception], isal_zlib.error)
"""The library's own types call it an instance."""

_BYTE_ORDER_MARK = b"\xef\xbb\xbf"
_ZSTD_PIECE_BYTES = 1024
"""Four bytes of zstd can unpack to 128 KiB; small pieces keep a hostile object from filling memory."""


class Delivered:
    """A raw object being read; its flags and sums are complete once blocks() has ended.

    is_damaged: compressed data ended early or made no sense; what came before it was given out.
    is_over: the object holds more than bytes_allowed uncompressed bytes; no more than that was given out.
    """

    def __init__(self, stream: BinaryIO, compression: str, bytes_allowed: int) -> None:
        self._stream = stream
        self._compression = compression
        self._bytes_allowed = bytes_allowed
        self._hash = hashlib.sha256()
        self.size = 0
        self.is_damaged = False
        self.is_over = False

    @property
    def sha256(self) -> str:
        """Hex digest of the bytes delivered so far."""
        return self._hash.hexdigest()

    def blocks(self) -> Iterator[bytes]:
        """The uncompressed bytes in blocks of about 1 MiB, until the end, the damage or the cap.

        A byte order mark at the start is left out: RFC 8259 (8.1) lets a reader ignore it, and spreadsheets
        write it into CSV.
        """
        blocks = self._allowed()
        start = b""
        while len(start) < len(_BYTE_ORDER_MARK) and (block := next(blocks, b"")):
            start += block
        if start := start.removeprefix(_BYTE_ORDER_MARK):
            yield start
        yield from blocks

    def _allowed(self) -> Iterator[bytes]:
        given = 0
        for block in self._unpacked():
            given += len(block)
            if given > self._bytes_allowed:
                self.is_over = True
                break
            yield block
        for _ in self._pieces(BLOCK_BYTES):
            pass  # what was not unpacked still belongs to the hash

    def _unpacked(self) -> Iterator[bytes]:
        if self._compression == ".gz":
            return self._gunzipped()
        if self._compression == ".zst":
            return self._unzstded()
        return self._pieces(BLOCK_BYTES)

    def _pieces(self, piece_bytes: int) -> Iterator[bytes]:
        while block := self._stream.read(BLOCK_BYTES):
            self.size += len(block)
            self._hash.update(block)
            for start in range(0, len(block), piece_bytes):
                yield block[start : start + piece_bytes]

    def _gunzipped(self) -> Iterator[bytes]:
        """Members one after another (RFC 1952, 2.2); zeros between and after them are padding."""
        member = None
        has_ended_one = False
        for piece in self._pieces(BLOCK_BYTES):
            rest = piece
            while rest:
                if member is None:
                    rest = rest.lstrip(b"\0") if has_ended_one else rest
                    member = isal_zlib.decompressobj(wbits=31) if rest else None
                    continue
                try:
                    block = member.decompress(rest, BLOCK_BYTES)
                except _GzipError:
                    self.is_damaged = True
                    return
                if block:
                    yield block
                rest = member.unconsumed_tail
                if member.eof:
                    rest, member, has_ended_one = member.unused_data, None, True
        self.is_damaged = member is not None

    def _unzstded(self) -> Iterator[bytes]:
        """Frames one after another (RFC 8878, 3.1)."""
        frame = None
        for piece in self._pieces(_ZSTD_PIECE_BYTES):
            rest = piece
            while rest:
                frame = frame or zstandard.ZstdDecompressor().decompressobj()
                try:
                    block = frame.decompress(rest)
                except zstandard.ZstdError:
                    self.is_damaged = True
                    return
                if block:
                    yield block
                rest, frame = (frame.unused_data, None) if frame.eof else (b"", frame)
        self.is_damaged = frame is not None
