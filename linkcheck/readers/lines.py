"""Whole lines out of a byte stream, in blocks that stay small whatever the file holds.

A block is one `bytes` object with the place of every line in it, so that a reader may take lines one by one or as
columns of a matrix. Line endings may be LF or CR LF; terminal colours are taken out. A line longer than `MAX_LINE`
(a binary file, or a hole left by a crashed recorder) is cut to that length and still counts as one line.
Nothing here knows a format.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import BinaryIO

import numpy as np
import numpy.typing as npt

__all__ = ["MAX_LINE", "Block", "blocks"]

BLOCK_BYTES = 1 << 19
MAX_LINE = 1 << 16
_COLOUR = re.compile(rb"\x1b\[[0-9;]*m")
_LF, _CR = 10, 13


@dataclass(frozen=True, slots=True, eq=False)
class Block:
    """Consecutive lines.

    Attributes:
        first: number of the first line, from 1.
        data: the bytes of all lines. starts, ends: int64[n], where each line lies in `data`, endings left out.
        open_end: the last line of this block has no line ending: the source stops there.

    """

    first: int
    data: bytes
    starts: npt.NDArray[np.int64]
    ends: npt.NDArray[np.int64]
    open_end: bool

    def __len__(self) -> int:
        return len(self.starts)

    def line(self, i: int) -> bytes:
        """Line `i` of this block."""
        return self.data[self.starts[i] : self.ends[i]]


def blocks(stream: BinaryIO, block_bytes: int = BLOCK_BYTES) -> Iterator[Block]:
    """Read a stream to its end, block by block."""
    first, rest = 1, b""
    while chunk := stream.read(block_bytes):
        head, newline, tail = chunk.rpartition(b"\n")
        if not newline:
            rest = (rest + chunk)[:MAX_LINE]
            continue
        block = _block(first, rest + head + newline, open_end=False)
        first += len(block)
        rest = tail[:MAX_LINE]
        yield block
    if rest:
        yield _block(first, rest, open_end=True)


def _block(first: int, data: bytes, *, open_end: bool) -> Block:
    if b"\x1b" in data:
        data = _COLOUR.sub(b"", data)
    chars = np.frombuffer(data, np.uint8)
    ends = np.flatnonzero(chars == _LF)
    if open_end:
        ends = np.append(ends, len(data))
    starts = np.concatenate(([0], ends[:-1] + 1))
    crlf = (ends > starts) & (chars[ends - 1] == _CR)
    return Block(first, data, starts, ends - crlf, open_end)
