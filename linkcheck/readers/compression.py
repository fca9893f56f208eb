"""Compressed files as plain streams: recognised by content, decompressed ahead in a thread, forgiving at the end.

A file that stops early or is damaged gives every byte up to there and says so in a note; nothing is raised for it.
Several members or frames in one file follow each other, as gzip and zstd allow. Memory stays bounded however well the
content was compressed.
"""

from __future__ import annotations

import codecs
import io
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any, BinaryIO, Final

import zstandard
from isal import isal_zlib

from linkcheck.readers.ahead import ReadAhead

__all__ = ["COMPRESSIONS", "PlainStream", "compression_of", "decompressed", "utf8_from"]

BLOCK_BYTES = 1 << 18  # plain bytes handed over at a time, at least
AHEAD = 4  # blocks waiting to be read

_GZIP_WINDOW = 31  # zlib's code for "gzip header and check sum"


@dataclass(frozen=True, slots=True)
class _Compression:
    magic: bytes
    start: Callable[[], Any]  # a decoder as zlib.decompressobj makes them
    piece: int  # compressed bytes at a time
    most_out: int  # plain bytes at a time, 0: not to be bounded


COMPRESSIONS: Final = {
    "gzip": _Compression(b"\x1f\x8b", lambda: isal_zlib.decompressobj(wbits=_GZIP_WINDOW), 1 << 16, 1 << 20),
    # The output of zstandard cannot be bounded, so pieces are small: a crafted kilobyte makes 32 MB at most.
    "zstd": _Compression(b"\x28\xb5\x2f\xfd", lambda: zstandard.ZstdDecompressor().decompressobj(), 1 << 10, 0),
}
_GZIP_DAMAGE: Any = isal_zlib.error  # isal ships a wrong type for it
_DAMAGE: tuple[type[Exception], ...] = (_GZIP_DAMAGE, zstandard.ZstdError, OSError, EOFError, ValueError)


def compression_of(head: bytes) -> str:
    """Name of the compression a file's first bytes show, or an empty text."""
    return next((name for name, row in COMPRESSIONS.items() if head.startswith(row.magic)), "")


class PlainStream(io.RawIOBase):
    """A readable stream over blocks of bytes, which are made ahead in a thread of their own.

    Args:
        pieces: the bytes, in pieces of any size.
        origin: what they are made of; closed with the stream.

    """

    def __init__(self, pieces: Iterator[bytes], origin: BinaryIO) -> None:
        super().__init__()
        self._origin = origin
        self._ahead = ReadAhead(_gathered(pieces), AHEAD)
        self._block = memoryview(b"")

    def readable(self) -> bool:
        """Whether it can be read: always."""
        return True

    def readinto(self, buffer: object, /) -> int:
        """Fill a buffer as far as one block reaches; 0 at the end."""
        target = memoryview(buffer).cast("B")  # type: ignore[arg-type]
        if not self._block:
            self._block = memoryview(self._ahead.take() or b"")
        n = min(len(target), len(self._block))
        target[:n] = self._block[:n]
        self._block = self._block[n:]
        return n

    def close(self) -> None:
        """Stop the thread and close what it read from."""
        if not self.closed and self._ahead.stop():
            self._origin.close()
        super().close()


def _gathered(pieces: Iterator[bytes]) -> Iterator[bytes]:
    """Small pieces put together to blocks worth handing over."""
    waiting, size = [], 0
    for piece in pieces:
        waiting.append(piece)
        size += len(piece)
        if size >= BLOCK_BYTES:
            yield b"".join(waiting)
            waiting, size = [], 0
    if size:
        yield b"".join(waiting)


def decompressed(stream: BinaryIO, name: str, notes: list[str]) -> PlainStream:
    """The plain content of a compressed stream, from its start.

    Args:
        stream: the compressed bytes; closed with the result.
        name: the compression, as `compression_of` names it.
        notes: sentences are put in here when the stream comes to a bad end.

    """
    return PlainStream(_members(stream, name, notes), stream)


def _members(stream: BinaryIO, name: str, notes: list[str]) -> Iterator[bytes]:
    """Plain blocks of all members of a file."""
    kind = COMPRESSIONS[name]
    decoder, fresh, left = kind.start(), True, b""
    try:
        while data := left or stream.read(kind.piece):
            left = b""
            if fresh and not data.strip(b"\0"):
                continue  # padding between or behind members
            fresh = False
            while data:
                yield decoder.decompress(data, kind.most_out) if kind.most_out else decoder.decompress(data)
                data = decoder.unconsumed_tail
            if decoder.eof:
                decoder, fresh, left = kind.start(), True, decoder.unused_data
    except _DAMAGE as error:
        notes.append(f"the {name} file is damaged ({error}); what came before is used")
        return
    if not fresh:
        notes.append(f"the {name} file is cut short; what could be read is used")


def utf8_from(stream: BinaryIO, encoding: str) -> PlainStream:
    """A text in another encoding (UTF-16) as UTF-8; characters that cannot be decoded become question marks."""

    def pieces() -> Iterator[bytes]:
        decoder = codecs.getincrementaldecoder(encoding)("replace")
        while data := stream.read(1 << 16):
            yield decoder.decode(data).encode("utf-8", "replace")
        yield decoder.decode(b"", final=True).encode("utf-8", "replace")

    return PlainStream(pieces(), stream)
