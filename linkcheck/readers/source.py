"""A file or standard input as a plain stream with its first bytes in view, whatever it is packed in.

Compression and UTF-16 are taken off here, by content; a byte order mark is dropped. What the content is, is decided
in `sniff`.
"""

from __future__ import annotations

import io
import os
import shutil
import stat
import sys
import tempfile
from dataclasses import dataclass
from pathlib import Path
from typing import Any, BinaryIO, cast

from linkcheck.errors import DataError
from linkcheck.readers.compression import compression_of, decompressed, utf8_from

__all__ = ["HEAD_BYTES", "Source", "open_source"]

HEAD_BYTES = 1 << 16
_BUFFER = 1 << 20
_read_into = io.FileIO.readinto
_MARKS = {b"\xef\xbb\xbf": "", b"\xff\xfe": "utf-16", b"\xfe\xff": "utf-16"}


class _File(io.FileIO):
    """A file that ends where the disk or the network fails, and says so in `faults`."""

    def __init__(self, file: str | int) -> None:
        super().__init__(file, "rb")
        self.faults: list[str] = []

    def readinto(self, buffer: Any, /) -> int | None:  # noqa: ANN401  # any writable buffer
        try:
            return _read_into(self, buffer)
        except OSError as error:
            self.faults.append(f"reading stopped early: {error.strerror or error}")
            return 0


class _Rejoined(io.RawIOBase):
    """A stream whose first bytes were read already."""

    def __init__(self, head: bytes, rest: io.RawIOBase) -> None:
        super().__init__()
        self._head, self._rest = memoryview(head), rest
        # What a slow pipe has given must not wait for a full buffer.
        self._read = getattr(rest, "readinto1", rest.readinto)

    def readable(self) -> bool:
        return True

    def readinto(self, buffer: object, /) -> int:
        target = memoryview(buffer).cast("B")  # type: ignore[arg-type]
        if not self._head:
            return self._read(target) or 0
        n = min(len(target), len(self._head))
        target[:n] = self._head[:n]
        self._head = self._head[n:]
        return n

    def fileno(self) -> int:
        return self._rest.fileno()

    def close(self) -> None:
        if not self.closed:
            self._rest.close()
        super().close()


@dataclass(slots=True, eq=False)
class Source:
    """An opened capture file.

    Attributes:
        path: as the user gave it.
        stream: the plain content from its start. head: its first bytes, up to `HEAD_BYTES`.
        is_plain: the file's content is the stream as it is. compression: its name, or empty.
        notes: what went wrong while reading and unpacking; complete once the stream is at its end.

    """

    path: str
    stream: BinaryIO
    head: bytes
    is_plain: bool
    compression: str
    _raw: BinaryIO
    _size: int | None
    notes: list[str]
    _spooled: str | None = None

    @property
    def progress(self) -> float | None:
        """Share of the file read so far, packed bytes counted; None for a pipe."""
        if not self._size or self._raw.closed:
            return 1.0 if self._size else None
        return min(1.0, self._raw.tell() / self._size)

    def on_disk(self, *, plain: bool) -> str:
        """A path under which another process finds the content; `plain` if it cannot unpack it itself.

        Where there is none, the content is spooled to a temporary file, which `close` removes.
        """
        if self._size is not None and (self.is_plain or not plain):
            return self.path
        if self._spooled is None:
            handle, self._spooled = tempfile.mkstemp(prefix="linkcheck-")
            with os.fdopen(handle, "wb") as file:
                shutil.copyfileobj(self.stream, file, _BUFFER)
        return self._spooled

    def close(self) -> None:
        """Close and clean up."""
        self.stream.close()
        if self._spooled is not None:
            Path(self._spooled).unlink(missing_ok=True)
            self._spooled = None


def open_source(path: str) -> Source:
    """Open a file, or standard input for "-".

    Raises:
        DataError: it cannot be opened or is empty.

    """
    file = _standard_input() if path == "-" else _file(path)
    try:
        return _unpack(path, file)
    except DataError:
        file.close()
        raise


def _unpack(path: str, file: _File) -> Source:
    raw = io.BufferedReader(file, _BUFFER)
    size = os.fstat(file.fileno()).st_size if path != "-" and file.seekable() else None
    head = _read_head(raw)
    if not head:
        raise _nothing(path, file.faults)
    stream, notes = _rejoin(head, raw), file.faults
    compression = compression_of(head)
    if compression:
        unpacked = decompressed(stream, compression, notes)
        head = _read_head(cast("BinaryIO", unpacked))
        stream = _rejoin(head, cast("BinaryIO", unpacked))
        if not head:
            stream.close()
            why = f" ({notes[0]})" if notes else ""
            raise DataError(f"The {compression} file holds nothing that can be read{why}.", where=path)
    mark = next((mark for mark in _MARKS if head.startswith(mark)), b"")
    if mark and _MARKS[mark]:
        text = utf8_from(stream, _MARKS[mark])
        head = _read_head(cast("BinaryIO", text))
        stream = _rejoin(head, cast("BinaryIO", text))
    elif mark:
        stream.read(len(mark))
        head = head[len(mark) :]
    return Source(path, stream, head, not (compression or mark), compression, raw, size, notes)


def _nothing(path: str, faults: list[str]) -> DataError:
    if faults:
        return DataError(f"The file cannot be read; {faults[0]}.", where=path)
    return DataError("The file is empty.", where=path, todo="Nothing was recorded, or it is still being copied.")


def _rejoin(head: bytes, stream: BinaryIO) -> BinaryIO:
    if isinstance(stream, io.BufferedReader) and stream.seekable():
        stream.seek(0)
        return stream
    return cast("BinaryIO", io.BufferedReader(_Rejoined(head, cast("io.RawIOBase", stream)), _BUFFER))


def _read_head(stream: BinaryIO) -> bytes:
    """The first bytes, even where a pipe hands them over in small pieces."""
    head = b""
    while len(head) < HEAD_BYTES and (data := stream.read(HEAD_BYTES - len(head))):
        head += data
    return head


def _standard_input() -> _File:
    try:
        if not sys.stdin.isatty():
            # A duplicate, so that closing the capture leaves the program its standard input.
            return _File(os.dup(sys.stdin.fileno()))
    except (AttributeError, OSError, ValueError):  # closed, or replaced by something that is no file
        pass
    raise DataError("There is nothing on standard input.", where="-", todo="Pipe a capture into the program.")


def _file(path: str) -> _File:
    try:
        if stat.S_ISDIR(Path(path).stat().st_mode):
            raise DataError("This is a folder, not a capture.", where=path, todo="Name a file in it.")
        return _File(path)
    except FileNotFoundError:
        raise DataError("There is no such file.", where=path, todo="Check the path.") from None
    except PermissionError:
        raise DataError("This file may not be read.", where=path, todo="Ask its owner for access.") from None
    except (OSError, ValueError) as error:
        raise DataError(f"The file cannot be opened: {error}.", where=path) from error
