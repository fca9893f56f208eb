"""Stretches of consecutive frames taken whole, for questions that need neighbours: bit rate, interleaved senders.

Of every four million frames of a channel the first 65,536 are kept together and examined; a capture of ordinary length
is examined whole. Which frames make a window depends on their ordinal only, never on batches.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from linkcheck.frames import FrameBatch, Marks

__all__ = ["Window", "Windows"]

LENGTH = 1 << 16
EVERY = 1 << 22


@dataclass(frozen=True, slots=True, eq=False)
class Window:
    """Consecutive frames of one channel, as columns."""

    time_ns: npt.NDArray[np.int64]
    identifier: npt.NDArray[np.uint32]
    flags: npt.NDArray[np.uint8]
    length: npt.NDArray[np.uint8]
    data: npt.NDArray[np.uint8]
    key: npt.NDArray[np.uint32]
    wire_bits: npt.NDArray[np.uint16]
    bus_gap_ns: npt.NDArray[np.int64]


class Windows:
    """Gathers windows and hands each to the examiners when it is full, or at the end."""

    def __init__(self, examiners: tuple[Callable[[Window], None], ...]) -> None:
        self._examiners = examiners
        self._ordinal = 0
        self._parts: list[Window] = []

    def eat(self, batch: FrameBatch, marks: Marks) -> None:
        """Take the rows of a batch that belong to a window."""
        n = len(batch)
        start = self._ordinal
        self._ordinal += n
        first = start // EVERY
        for number in range(first, (start + n - 1) // EVERY + 1):
            low = max(number * EVERY - start, 0)
            high = min(number * EVERY + LENGTH - start, n)
            if low >= high:
                continue
            rows = slice(low, high)
            self._parts.append(
                Window(
                    batch.time_ns[rows].copy(),
                    batch.identifier[rows].copy(),
                    batch.flags[rows].copy(),
                    batch.length[rows].copy(),
                    batch.data[rows].copy(),
                    marks.key[rows].copy(),
                    marks.wire_bits[rows].copy(),
                    marks.bus_gap_ns[rows].copy(),
                )
            )
            if start + high == number * EVERY + LENGTH:
                self._examine()

    def _examine(self) -> None:
        parts, self._parts = self._parts, []
        if not parts:
            return
        columns = [np.concatenate([getattr(part, name) for part in parts]) for name in Window.__slots__]
        window = Window(*columns)
        for examine in self._examiners:
            examine(window)

    def finish(self) -> None:
        """Examine what is left."""
        self._examine()
