"""candump log files (`candump -l`): whole files into batches, in bounded memory, every line accounted for.

Text is read into one buffer, used again and again; each batch gets columns of its own, so that a reader may run ahead
of whoever eats the batches. The compiled kernel parses whole blocks with the GIL released; what it cannot take it hands
back as line number and place, and `candump_line` says why. Without the kernel, `candump_line` reads every line.

Nothing here opens files.
"""

from __future__ import annotations

import select
from collections.abc import Iterator
from types import ModuleType
from typing import Any, BinaryIO, Protocol, TypeAlias, cast

import numpy as np
import numpy.typing as npt

from linkcheck.frames import FrameBatch
from linkcheck.frames.batch import WIDE
from linkcheck.frames.kernel import pick_kernel
from linkcheck.readers.candump_line import (
    LONGEST_NAME,
    LineError,
    dropped_frames,
    format_candump,
    is_comment,
    read_line,
)
from linkcheck.readers.capture import KEPT_SKIPS, Tally

__all__ = ["CandumpLog", "format_candump", "open_candump"]

LONGEST_LINE = 4096  # bytes; the longest frame takes some 190
MOST_CHANNELS = 255
BATCH_FRAMES = 1 << 17
CHUNK = 1 << 20  # bytes read at a time
_ODD_ROOM = 1024  # lines the kernel hands back at once
_ChannelRow: TypeAlias = tuple[int, int, int, int, int, bytes]  # as FrameBatch.from_rows wants it
_BOM = b"\xef\xbb\xbf"  # some editors put it before the first line
_CUT_SHORT = "The last line has no end; the file may be cut short."


def open_candump(
    path_label: str,
    stream: BinaryIO,
    *,
    total_bytes: int | None = None,
    batch_frames: int = BATCH_FRAMES,
    kernel: bool | None = None,
) -> CandumpLog:
    """Read a candump log.

    Args:
        path_label: what to call it.
        stream: its bytes, already decompressed, best unbuffered; closed by `CandumpLog.close`.
        total_bytes: its size, for `progress`; None when unknown.
        batch_frames: most frames in a batch.
        kernel: False for the twin, True for the kernel or an error, None for the kernel if there is one.

    """
    return CandumpLog(path_label, stream, total_bytes, batch_frames, kernel)


class _Stream(Protocol):
    """What is asked of a stream; `typing.BinaryIO` knows no `readinto`."""

    def readinto(self, buffer: memoryview, /) -> int | None: ...

    def close(self) -> None: ...


class CandumpLog:
    """An open candump log; see `linkcheck.readers.capture.Capture`."""

    format = "candump log"
    timeless = False

    def __init__(
        self, path: str, stream: BinaryIO, total_bytes: int | None, batch_frames: int, kernel: bool | None
    ) -> None:
        self.path = path
        self.tally = Tally()
        self._stream = cast("_Stream", stream)
        self._total = total_bytes
        self._read = 0
        self._kernel = pick_kernel(kernel)
        self._columns = _Columns(batch_frames)
        self._channels: dict[bytes, int] = {}
        self._names = np.zeros((MOST_CHANNELS, LONGEST_NAME + 1), np.uint8)  # the same, for the kernel
        self._odd = np.zeros((_ODD_ROOM, 3), np.int64)

    @property
    def progress(self) -> float | None:
        """Share of the bytes read so far."""
        return min(self._read / self._total, 1.0) if self._total else None

    def close(self) -> None:
        """Release the stream."""
        self._stream.close()

    def batches(self) -> Iterator[FrameBatch]:
        """Batches in the order recorded. May be called once."""
        text, fill = bytearray(CHUNK + LONGEST_LINE + 1), 0
        view = memoryview(text)
        read = getattr(self._stream, "readinto1", self._stream.readinto)  # a full buffer is not waited for
        while got := read(view[fill : fill + CHUNK]):
            at = len(_BOM) if self._read == 0 and text.startswith(_BOM) else 0
            self._read += got
            fill += got
            while (reached := self._parse(text, at, fill)) > at:
                at = reached
                if self._columns.full:
                    yield self._batch()
            # A pipe may be slow, or fed by a live bus: what has come must not wait for a full batch.
            if got < CHUNK and self._columns.frames and not _more_waits(self._stream):
                yield self._batch()
            fill = min(fill - at, LONGEST_LINE + 1)  # of a line that is too long, enough to tell
            view[:fill] = view[at : at + fill]
        if fill and (last := self._take(bytes(view[:fill]))):
            self._columns.extend(last)
            self.tally.notes.append(_CUT_SHORT)
        if self._columns.frames:
            yield self._batch()

    def _batch(self) -> FrameBatch:
        columns, self._columns = self._columns, _Columns(self._columns.room)
        self.tally.frames += columns.frames
        return columns.batch(tuple(name.decode("ascii") for name in self._channels))

    def _parse(self, text: bytearray, begin: int, end: int) -> int:
        """Parse whole lines until the text or the columns are at their end; where it stopped."""
        if self._kernel is None:
            return self._parse_lines(text, begin, end)
        return self._parse_block(self._kernel, text, begin, end)

    def _parse_block(self, kernel: ModuleType, text: bytearray, begin: int, end: int) -> int:
        columns, tally, known = self._columns, self.tally, len(self._channels)
        consumed, columns.frames, columns.wide, channels, lines, comments, skipped, odd = kernel.parse(
            text,
            begin,
            end,
            *columns.arrays(),
            columns.frames,
            columns.room,
            columns.wide,
            self._names,
            known,
            self._odd,
            KEPT_SKIPS - len(tally.skipped_lines),
        )
        for channel in range(known, channels):
            self._channels[self._names[channel].tobytes().rstrip(b"\0")] = channel
        for line, offset, size in self._odd[:odd].tolist():
            start = begin + offset
            self._refuse(tally.lines + line + 1, bytes(text[start : start + min(size, LONGEST_LINE + 1)]))
        tally.lines += lines
        tally.comments += comments
        tally.skipped += skipped
        return begin + int(consumed)

    def _parse_lines(self, text: bytearray, begin: int, end: int) -> int:
        rows: list[_ChannelRow] = []
        room = self._columns.room - self._columns.frames
        while len(rows) < room and (stop := text.find(b"\n", begin, end)) >= 0:
            rows += self._take(bytes(text[begin : min(stop, begin + LONGEST_LINE + 1)]))
            begin = stop + 1
        self._columns.extend(rows)
        return begin

    def _take(self, line: bytes) -> list[_ChannelRow]:
        """Read the next line: the frame it gives, or none."""
        self.tally.lines += 1
        if len(line) <= LONGEST_LINE and not is_comment(line):
            try:
                row = read_line(line)
            except LineError:
                pass
            else:
                if row.interface in self._channels or len(self._channels) < MOST_CHANNELS:
                    channel = self._channels.setdefault(row.interface, len(self._channels))
                    return [(row.time_ns, channel, row.identifier, row.flags, row.length, row.payload)]
        self._refuse(self.tally.lines, line)
        return []

    def _refuse(self, number: int, line: bytes) -> None:
        """Account for a line that gave no frame."""
        if len(line) > LONGEST_LINE:
            self.tally.skip(number, f"longer than {LONGEST_LINE} bytes")
        elif is_comment(line):
            self.tally.comments += 1
            self.tally.dropped += dropped_frames(line)
        else:
            try:
                read_line(line)
            except LineError as error:
                self.tally.skip(number, str(error))
            else:
                self.tally.skip(number, f"more than {MOST_CHANNELS} interfaces")


def _more_waits(stream: _Stream) -> bool:
    """Whether a read would return at once; True where that cannot be asked (packed files, consoles of some systems)."""
    try:
        ready, _, _ = select.select([cast("BinaryIO", stream)], [], [], 0)
    except (OSError, TypeError, ValueError):
        return True
    return bool(ready)


class _Columns:
    """The columns of one batch, being filled."""

    def __init__(self, room: int) -> None:
        self.room = room
        self.frames = self.wide = 0
        self._time_ns = np.empty(room, np.int64)
        self._channel = np.empty(room, np.uint8)
        self._identifier = np.empty(room, np.uint32)
        self._flags = np.empty(room, np.uint8)
        self._length = np.empty(room, np.uint8)
        self._data = np.empty((room, 8), np.uint8)
        self._wide_rows = np.empty(room, np.int64)
        self._wide_data = np.empty((room, WIDE), np.uint8)  # memory that no FD frame touches costs nothing

    @property
    def full(self) -> bool:
        return self.frames == self.room

    def arrays(self) -> tuple[npt.NDArray[Any], ...]:
        """All of them, in the order the kernel wants."""
        narrow = (self._time_ns, self._channel, self._identifier, self._flags, self._length, self._data)
        return (*narrow, self._wide_rows, self._wide_data)

    def extend(self, rows: list[_ChannelRow]) -> None:
        more = FrameBatch.from_rows(rows, ())
        here, there = slice(self.frames, self.frames + len(rows)), slice(self.wide, self.wide + len(more.wide_rows))
        self._time_ns[here] = more.time_ns
        self._channel[here] = more.channel
        self._identifier[here] = more.identifier
        self._flags[here] = more.flags
        self._length[here] = more.length
        self._data[here] = more.data
        self._wide_rows[there] = more.wide_rows + self.frames
        self._wide_data[there] = more.wide_data
        self.frames, self.wide = here.stop, there.stop

    def batch(self, channels: tuple[str, ...]) -> FrameBatch:
        n, k = self.frames, self.wide
        return FrameBatch(
            channels,
            self._time_ns[:n],
            self._channel[:n],
            self._identifier[:n],
            self._flags[:n],
            self._length[:n],
            self._data[:n],
            self._wide_rows[:k],
            self._wide_data[:k],
        )
