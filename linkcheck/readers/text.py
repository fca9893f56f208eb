"""`TextCapture`: what all readers of line-based text share: counting, batching, closing.

A reader says how one line is read (`parse`); lines of a common build go through `layout`. What a line cannot say
alone (whether times are deltas, whether there are times at all) is settled per block in `settle`.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import chain
from typing import BinaryIO

from linkcheck.frames import FrameBatch
from linkcheck.readers.capture import Tally
from linkcheck.readers.layout import Columns, Line, read_block
from linkcheck.readers.lines import Block, blocks

__all__ = ["TextCapture"]


class TextCapture:
    """A capture read line by line.

    Args:
        path: as the user gave it.
        stream: the text, from its start; closed by `close`.

    """

    format = "text"
    timeless = False
    progress: float | None = None  # known to whoever opened the file

    def __init__(self, path: str, stream: BinaryIO) -> None:
        self.path = path
        self.tally = Tally()
        self._stream = stream
        self._blocks: Iterator[Block] = blocks(stream)
        # What the whole file depends on (version, kind of times) must be known before the first frame is used.
        if first := next(self._blocks, None):
            self.begin(first)
            self._blocks = chain([first], self._blocks)

    def close(self) -> None:
        """Release the file."""
        self._stream.close()

    def batches(self) -> Iterator[FrameBatch]:
        """Batches in the order recorded. May be called once."""
        channels: list[str] = []
        tally = self.tally
        for block in self._blocks:
            columns = read_block(block, self.parse, channels)
            self.settle(columns)
            batch = columns.batch(channels)
            tally.lines += len(block)
            tally.frames += len(batch)
            tally.comments += columns.comments
            tally.dropped += columns.dropped
            for i in sorted(columns.skips):
                tally.skip(block.first + i, columns.skips[i])
            if len(batch):
                yield batch

    def begin(self, first: Block) -> None:
        """Look at the first lines; they come again."""

    def parse(self, line: bytes) -> Line:
        """Read one line, without its ending."""
        raise NotImplementedError

    def settle(self, columns: Columns) -> None:
        """Amend the columns of a block before its batch is made."""
