r"""The byte log of a J1708 link: plain text, a time and the bytes that arrived at it, in hexadecimal.

    # J1708 bytes; times in seconds, of the last byte of a line
    1700000000.105208 80 BE 40 06 7C
    1700000000.251911 88 A8 F6 00 DA

One line holds one byte or any number that followed each other without a gap; silence is told from the times alone. The
time is when the last byte was over, or, if a remark says `times ... of the first byte`, when the first began. Without
such a remark the reading under which fewer lines overlap is taken. Read as well: a time in brackets, commas or
semicolons, bytes with 0x in front or without spaces between, remarks behind `#`, blank lines, CR LF.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from itertools import chain, pairwise

from linkcheck.errors import DataError
from linkcheck.j1708.framing import BIT_NS, CHARACTER_NS
from linkcheck.readers.capture import Tally
from linkcheck.readers.lines import Block, blocks
from linkcheck.readers.source import Source, open_source

__all__ = ["BYTE_LINE", "HEADER", "ByteLog", "NotFramesError", "byte_line"]

HEADER = "# J1708 bytes; times in seconds, of the last byte of a line\n"

BYTE_LINE = re.compile(rb"\s*[(\[]?(\d+\.\d+)[)\]]?[\s,;:]+((?:(?:0[xX])?[0-9A-Fa-f]{2}[\s,;]*)+)(?:#.*)?$", re.DOTALL)
_FIRST = re.compile(rb"(?i)^\s*#.*times?\b.*first byte", re.MULTILINE)
_LAST = re.compile(rb"(?i)^\s*#.*times?\b.*last byte", re.MULTILINE)
_STRIP = re.compile(rb"0[xX]|[\s,;]")
_LATEST_S = 9_000_000_000  # nanoseconds must fit 64 bits

Chunk = tuple[int, bytes]


class NotFramesError(DataError):
    """A capture of frames was asked for, and the file is a byte log."""

    def __init__(self, source: Source) -> None:
        super().__init__(
            "This is a byte log of a J1708 link: it has no CAN frames.",
            where=source.path,
            todo="`linkcheck replay` reads it.",
        )
        self._source = source

    def open(self) -> ByteLog:
        """The log itself.

        Raises:
            DataError: it cannot be opened again.

        """
        return ByteLog(open_source(self._source.path) if self._source.stream.closed else self._source)


class ByteLog:
    """An open byte log: its chunks, and an account of every line. `tally.frames` counts lines with bytes."""

    def __init__(self, source: Source) -> None:
        self.path = source.path
        self.format = f"J1708 byte log, {source.compression}" if source.compression else "J1708 byte log"
        self.tally = Tally()
        self._source = source

    @property
    def progress(self) -> float | None:
        """Share of the file read so far."""
        return self._source.progress

    def chunks(self) -> Iterator[Chunk]:
        """When the last byte of each line ended, in nanoseconds, and its bytes. May be called once."""
        stream: Iterator[Block] = blocks(self._source.stream)
        first = next(stream, None)
        if first is None:
            return
        at_start = _stamped_at_start(first)
        if at_start:
            self.tally.notes.append("times were taken for those of each line's first byte")
        for block in chain([first], stream):
            yield from self._block(block, at_start=at_start)
        self.tally.notes += self._source.notes

    def _block(self, block: Block, *, at_start: bool) -> Iterator[Chunk]:
        tally = self.tally
        for i in range(len(block)):
            tally.lines += 1
            line = block.line(i)
            if not line.strip() or line.lstrip().startswith(b"#"):
                tally.comments += 1
                continue
            chunk = _chunk(line)
            if isinstance(chunk, str):
                cut = " (the last line, perhaps cut off)" if block.open_end and i == len(block) - 1 else ""
                tally.skip(block.first + i, chunk + cut)
                continue
            tally.frames += 1
            time_ns, data = chunk
            yield (time_ns + len(data) * CHARACTER_NS if at_start else time_ns), data

    def close(self) -> None:
        """Release the file."""
        self._source.close()


def byte_line(end_ns: int, data: bytes) -> str:
    """A line of the log, as it is written."""
    return f"{end_ns // 1_000_000_000}.{end_ns % 1_000_000_000 // 1000:06d} {data.hex(' ').upper()}\n"


def _chunk(line: bytes) -> Chunk | str:
    """Time and bytes of a line, or why it has none."""
    match = BYTE_LINE.match(line)
    if match is None:
        return "no time and bytes in hexadecimal"
    whole, _, fraction = match[1].partition(b".")
    if len(whole) > 10 or int(whole) > _LATEST_S:
        return "time out of range"
    time_ns = int(whole) * 1_000_000_000 + int(fraction[:9].ljust(9, b"0"))
    return time_ns, bytes.fromhex(_STRIP.sub(b"", match[2]).decode())


def _stamped_at_start(block: Block) -> bool:
    """Whether times are those of a line's first byte: by a remark, or as fewer lines overlap then."""
    if _FIRST.search(block.data) or _LAST.search(block.data):
        return bool(_FIRST.search(block.data))
    chunks = [chunk for i in range(len(block)) if not isinstance(chunk := _chunk(block.line(i)), str)]
    overlaps = {False: 0, True: 0}
    for (earlier_ns, before), (later_ns, after) in pairwise(chunks):
        for at_start, inside in ((False, after), (True, before)):
            overlaps[at_start] += later_ns - earlier_ns < len(inside) * CHARACTER_NS - BIT_NS
    return overlaps[True] < overlaps[False]
