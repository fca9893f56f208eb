"""Files sorted by identifier, put back in order of time.

Some programs export a recording one identifier after the other, so time goes back wherever the next one begins. Such
a file is told from one whose clock was set back: here no identifier returns once time has gone back after it.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np
import numpy.typing as npt

from linkcheck.frames import ERROR, EXTENDED, FrameBatch
from linkcheck.readers.capture import Capture
from linkcheck.readers.open import open_capture

__all__ = ["MAX_FRAMES", "regroup"]

MAX_FRAMES = 5_000_000  # some 200 MB while sorting
BACK_NS = 1_000_000_000  # time must go back this far to begin another block
BATCH_FRAMES = 65536

SORTED = "the file is sorted by identifier; its frames were put in order of time"


def regroup(path: str, *, format: str | None = None, max_frames: int = MAX_FRAMES) -> Capture | None:  # noqa: A002
    """Read a file again to see whether it is sorted by identifier; if so, give it in order of time.

    Args:
        path: the file.
        format: as in `open_capture`.
        max_frames: a longer file is not sorted; its frames then come as they are, and a note says so.

    Returns:
        None where the file is not sorted by identifier, and for standard input.

    Raises:
        DataError: it cannot be read.

    """
    if path == "-" or not _is_grouped(path, format):
        return None
    return _Sorted(open_capture(path, format=format), max_frames)


def _is_grouped(path: str, format_name: str | None) -> bool:
    capture = open_capture(path, format=format_name)
    closed: set[int] = set()
    block: set[int] = set()
    last_ns = None
    try:
        for batch in capture.batches():
            keys = _keys(batch)
            before = np.concatenate(([batch.time_ns[0] if last_ns is None else last_ns], batch.time_ns[:-1]))
            last_ns = batch.time_ns[-1]
            breaks = np.flatnonzero(batch.time_ns < before - BACK_NS)
            for i, part in enumerate(np.split(keys, breaks)):
                if i:
                    closed |= block
                    block = set()
                block.update(np.unique(part).tolist())
                if not closed.isdisjoint(block):
                    return False
    finally:
        capture.close()
    return bool(closed)


def _keys(batch: FrameBatch) -> npt.NDArray[np.int64]:
    """One number for each channel and identifier."""
    kind = (batch.flags & (EXTENDED | ERROR)).astype(np.int64)
    return batch.channel.astype(np.int64) << 40 | kind << 32 | batch.identifier


class _Sorted:
    """A capture whose frames are all held and given in order of time."""

    def __init__(self, capture: Capture, max_frames: int) -> None:
        self.path, self.format, self.tally, self.timeless = capture.path, capture.format, capture.tally, False
        self._capture, self._max_frames = capture, max_frames

    @property
    def progress(self) -> float | None:
        return self._capture.progress

    def batches(self) -> Iterator[FrameBatch]:
        held: list[FrameBatch] = []
        batches = self._capture.batches()
        for batch in batches:
            held.append(batch)
            if sum(map(len, held)) > self._max_frames:
                self.tally.notes.append(
                    f"the file is sorted by identifier, but has more than {self._max_frames} frames, too many to sort"
                )
                yield from held
                yield from batches
                return
        self.tally.notes.append(SORTED)
        whole = _joined(held)
        order = np.argsort(whole.time_ns, kind="stable")
        for start in range(0, len(order), BATCH_FRAMES):
            yield whole.take(order[start : start + BATCH_FRAMES])

    def close(self) -> None:
        self._capture.close()


def _joined(batches: list[FrameBatch]) -> FrameBatch:
    """All batches as one; the list is emptied on the way."""
    starts = np.cumsum([0, *map(len, batches)])

    def column(name: str) -> Any:  # noqa: ANN401  # an array of the column's own type
        return np.concatenate([getattr(batch, name) for batch in batches])

    joined = FrameBatch(
        batches[-1].channels,
        column("time_ns"),
        column("channel"),
        column("identifier"),
        column("flags"),
        column("length"),
        column("data"),
        np.concatenate([batch.wide_rows + start for batch, start in zip(batches, starts[:-1], strict=True)]),
        column("wide_data"),
    )
    batches.clear()
    return joined
