"""One clock for the analysers: what to do when a recording's time goes back, or jumps.

Small steps back (interfaces interleaved, a host that stamps late) are left alone and counted; the bins and gaps
downstream can bear them. A large step back means the recorder's clock was set, or a second recording follows in the
same file; a step forward of more than a day means the same. Then a new segment begins: it is laid right behind the
last one, and no gap or silence is reckoned across the seam. The outcome depends on the frames alone, never on how
they were cut into batches.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from linkcheck.frames import FrameBatch

__all__ = ["BACK_NS", "FORWARD_NS", "Seam", "Timeline"]

BACK_NS = 1_000_000_000  # a second: no recorder is out of order by more
FORWARD_NS = 86_400_000_000_000  # a day: no bus is silent that long inside one recording that is meant as one


@dataclass(frozen=True, slots=True)
class Seam:
    """Where a new segment begins: the frame's ordinal in the source, and the step the clock made there."""

    frame: int
    step_ns: int


class Timeline:
    """Lays the segments of a recording end to end."""

    def __init__(self) -> None:
        self.seams: list[Seam] = []
        self.seam_count = 0
        self.small_steps_back = 0
        self.largest_small_step_ns = 0
        self._frames = 0
        self._shift = 0
        self._last: int | None = None

    def lay(self, batch: FrameBatch) -> Iterator[tuple[FrameBatch, bool]]:
        """Split a batch at its seams and shift each part. Yields (part, begins a new segment)."""
        if not len(batch):
            return
        raw = batch.time_ns
        before = raw[0] if self._last is None else self._last
        steps = np.empty(len(raw), np.int64)
        steps[0] = raw[0] - before
        np.subtract(raw[1:], raw[:-1], out=steps[1:])
        starts: list[int] = []
        if steps.min() < 0 or steps.max() > FORWARD_NS:
            starts = self._note_steps(steps)
        at = 0
        for start in [*starts, len(raw)]:
            if start > at or start == len(raw):
                yield self._shifted(batch, at, start), at in starts
            if start < len(raw):
                # The new segment begins where the last one ended.
                self._shift -= int(steps[start])
            at = start
        self._frames += len(raw)
        self._last = int(raw[-1])

    def _note_steps(self, steps: np.ndarray) -> list[int]:
        large = (steps < -BACK_NS) | (steps > FORWARD_NS)
        small = steps[(steps < 0) & ~large]
        self.small_steps_back += len(small)
        if len(small):
            self.largest_small_step_ns = max(self.largest_small_step_ns, -int(small.min()))
        starts = [int(row) for row in np.flatnonzero(large)]
        self.seam_count += len(starts)
        room = 1000 - len(self.seams)
        self.seams += [Seam(self._frames + row, int(steps[row])) for row in starts[:room]]
        return starts

    def _shifted(self, batch: FrameBatch, start: int, stop: int) -> FrameBatch:
        part = batch if (start, stop) == (0, len(batch)) else batch.take(slice(start, stop))
        if not self._shift:
            return part
        return FrameBatch(
            part.channels,
            part.time_ns + self._shift,
            part.channel,
            part.identifier,
            part.flags,
            part.length,
            part.data,
            part.wide_rows,
            part.wide_data,
        )
