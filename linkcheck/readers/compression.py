"""Compressed files as plain streams: recognised by content, decompressed ahead in a thread, forgiving at the end.

A file that stops early or is damaged gives every byte up to there and says so in `PlainStream.notes`; nothing is
raised for it. Several members or frames in one file follow each other, as gzip and zstd allow. Memory stays bounded
however well the content was compressed.
"""

from __future__ import annotations

import codecs
import io
import queue
import threading
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any, BinaryIO, Final

import zstandard
from isal import isal_zlib

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
    """A readable stream over blocks of bytes made by a generator, which runs ahead in a thread of its own.

    Attributes:
        notes: what went wrong on the way, in sentences.

    """

    def __init__(self, source: Callable[[list[str]], Iterator[bytes]], origin: BinaryIO) -> None:
        super().__init__()
        self.notes: list[str] = []
        self._origin = origin
        self._queue: queue.Queue[bytes] = queue.Queue(AHEAD)
        self._stop = threading.Event()
        self._block = memoryview(b"")
        self._ended = False
        self._thread = threading.Thread(target=self._run, args=(source,), daemon=True)
        self._thread.start()

    def _run(self, source: Callable[[list[str]], Iterator[bytes]]) -> None:
        pieces, size = [], 0
        try:
            for piece in source(self.notes):
                pieces.append(piece)
                size += len(piece)
                if size >= BLOCK_BYTES:
                    if not self._put(b"".join(pieces)):
                        return
                    pieces, size = [], 0
        except _DAMAGE as error:
            self.notes.append(f"reading stopped early: {error}")
        if not size or self._put(b"".join(pieces)):
            self._put(b"")

    def _put(self, block: bytes) -> bool:
        while not self._stop.is_set():
            try:
                self._queue.put(block, timeout=0.1)
            except queue.Full:
                continue
            return True
        return False

    def readable(self) -> bool:
        """Whether it can be read: always."""
        return True

    def readinto(self, buffer: object, /) -> int:
        """Fill a buffer as far as one block reaches; 0 at the end."""
        target = memoryview(buffer).cast("B")  # type: ignore[arg-type]
        if not self._block and not self._ended:
            self._block = memoryview(self._queue.get())
            self._ended = not self._block
        n = min(len(target), len(self._block))
        target[:n] = self._block[:n]
        self._block = self._block[n:]
        return n

    def close(self) -> None:
        """Stop the thread and close what it read from."""
        if not self.closed:
            self._stop.set()
            self._thread.join()
            self._origin.close()
        super().close()


def decompressed(stream: BinaryIO, name: str) -> PlainStream:
    """The plain content of a compressed stream, from its start.

    Args:
        stream: the compressed bytes; closed with the result.
        name: the compression, as `compression_of` names it.

    """
    return PlainStream(lambda notes: _members(stream, name, notes), stream)


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

    def source(_: list[str]) -> Iterator[bytes]:
        decoder = codecs.getincrementaldecoder(encoding)("replace")
        while data := stream.read(1 << 16):
            yield decoder.decode(data).encode("utf-8", "replace")
        yield decoder.decode(b"", final=True).encode("utf-8", "replace")

    return PlainStream(source, stream)
