"""candump log files (`candump -l`): whole files into batches, in bounded memory, every line accounted for.

Text is read into one buffer, used again and again; each batch gets columns of its own, so that a reader may run ahead
of whoever eats the batches. The compiled kernel parses whole blocks with the GIL released; what it cannot take it hands
back as line number and place, and `candump_line` says why. Without the kernel, `candump_line` reads every line.

Nothing here opens files.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import BinaryIO

import numpy as np

from linkcheck.frames import FrameBatch
from linkcheck.frames.batch import WIDE
from linkcheck.frames.kernel import pick_kernel
from linkcheck.readers.candump_line import (
    LONGEST_NAME,
    LineError,
    Row,
    dropped_frames,
    format_candump,
    is_comment,
    read_line,
)
from linkcheck.readers.capture import KEPT_SKIPS, Tally

__all__ = ["CandumpLog", "format_candump", "open_candump"]

LONGEST_LINE = 4096  # bytes; the longest frame takes some 190
MOST_CHANNELS = 255
BATCH_FRAMES = 65536
CHUNK = 1 << 20  # bytes read at a time
_ODD_ROOM = 1024  # lines the kernel hands back at once
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


class CandumpLog:
    """An open candump log; see `linkcheck.readers.capture.Capture`."""

    format = "candump log"

    def __init__(
        self, path: str, stream: BinaryIO, total_bytes: int | None, batch_frames: int, kernel: bool | None
    ) -> None:
        self.path = path
        self.tally = Tally()
        self._stream = stream
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
        parse = self._parse_lines if self._kernel is None else self._parse_block
        while got := self._stream.readinto(view[fill : fill + CHUNK]):
            at = len(_BOM) if self._read == 0 and text.startswith(_BOM) else 0
            self._read += got
            fill += got
            while (reached := parse(text, at, fill)) > at:
                at = reached
                if self._columns.full:
                    yield self._batch()
            fill = min(fill - at, LONGEST_LINE + 1)  # of a line that is too long, enough to tell
            view[:fill] = view[at : at + fill]
        if fill:
            self._take_last(bytes(view[:fill]))
        if self._columns.frames:
            yield self._batch()

    def _batch(self) -> FrameBatch:
        columns, self._columns = self._columns, _Columns(self._columns.room)
        self.tally.frames += columns.frames
        return columns.batch(tuple(name.decode("ascii") for name in self._channels))

    def _parse_block(self, text: bytearray, begin: int, end: int) -> int:
        """Let the kernel parse whole lines until the text, the columns or the list of odd lines is at its end."""
        columns, tally = self._columns, self.tally
        consumed, columns.frames, columns.wide, channels, lines, comments, skipped, odd = self._kernel.parse(
            text,
            begin,
            end,
            *columns.arrays,
            columns.frames,
            columns.room,
            columns.wide,
            self._names,
            len(self._channels),
            self._odd,
            KEPT_SKIPS - len(tally.skipped_lines),
        )
        for name in self._names[len(self._channels) : channels]:
            self._channels[name.tobytes().rstrip(b"\0")] = len(self._channels)
        for line, offset, size in self._odd[:odd].tolist():
            start = begin + offset
            self._refuse(tally.lines + line + 1, bytes(text[start : start + min(size, LONGEST_LINE + 1)]))
        tally.lines += lines
        tally.comments += comments
        tally.skipped += skipped
        return begin + consumed

    def _parse_lines(self, text: bytearray, begin: int, end: int) -> int:
        """Do the same in Python."""
        while not self._columns.full and (stop := text.find(b"\n", begin, end)) >= 0:
            self._take(bytes(text[begin : min(stop, begin + LONGEST_LINE + 1)]))
            begin = stop + 1
        return begin

    def _take(self, line: bytes) -> bool:
        """Read the next line; whether it gave a frame."""
        self.tally.lines += 1
        if len(line) <= LONGEST_LINE and not is_comment(line):
            try:
                row = read_line(line)
            except LineError:
                pass
            else:
                if row.interface in self._channels or len(self._channels) < MOST_CHANNELS:
                    self._columns.put(row, self._channels.setdefault(row.interface, len(self._channels)))
                    return True
        self._refuse(self.tally.lines, line)
        return False

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

    def _take_last(self, line: bytes) -> None:
        if self._take(line):
            self.tally.notes.append(_CUT_SHORT)


class _Columns:
    """The columns of one batch, being filled."""

    def __init__(self, room: int) -> None:
        self.room = room
        self.frames = self.wide = 0
        self.arrays = (
            np.empty(room, np.int64),
            np.empty(room, np.uint8),
            np.empty(room, np.uint32),
            np.empty(room, np.uint8),
            np.empty(room, np.uint8),
            np.empty((room, 8), np.uint8),
            np.empty(room, np.int64),
            np.empty((room, WIDE), np.uint8),  # memory that no FD frame touches costs nothing
        )

    @property
    def full(self) -> bool:
        return self.frames == self.room

    def put(self, row: Row, channel: int) -> None:
        time_ns, channels, identifier, flags, length, data, wide_rows, wide_data = self.arrays
        n = self.frames
        time_ns[n], channels[n], identifier[n], flags[n], length[n] = (
            row.time_ns,
            channel,
            row.identifier,
            row.flags,
            row.length,
        )
        data[n] = np.frombuffer(row.payload[:8].ljust(8, b"\0"), np.uint8)
        if len(row.payload) > data.shape[1]:
            wide_rows[self.wide] = n
            wide_data[self.wide] = np.frombuffer(row.payload.ljust(WIDE, b"\0"), np.uint8)
            self.wide += 1
        self.frames += 1

    def batch(self, channels: tuple[str, ...]) -> FrameBatch:
        n, k = self.frames, self.wide
        *narrow, wide_rows, wide_data = self.arrays
        return FrameBatch(channels, *(column[:n] for column in narrow), wide_rows[:k], wide_data[:k])
