"""Long gaps, kept one by one: the longest two thousand of every address, and of the bus as a whole.

Which gaps are kept depends on the gaps alone: whenever the store is trimmed, the longest stay (of equal ones the
later), and the longest of all are never among those thrown away.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

__all__ = ["BUS", "LONG_GAP_NS", "Gap", "LongGaps"]

LONG_GAP_NS = 50_000_000  # shorter gaps are read off the histograms
BUS = -1  # stands for "any address" among the gaps
_KEPT = 2000
_PENDING = 1 << 16
_PENDING_PARTS = 256  # live batches are small and many


@dataclass(frozen=True, slots=True)
class Gap:
    """A stretch without frames: its length and start in nanoseconds."""

    length_ns: int
    start_ns: int

    @property
    def end_ns(self) -> int:
        """When the next frame ended it."""
        return self.start_ns + self.length_ns


class LongGaps:
    """The longest gaps of each address, as columns: address, length, start."""

    def __init__(self) -> None:
        self._kept = np.zeros((3, 0), np.int64)
        self._pending: list[npt.NDArray[np.int64]] = []
        self._pending_count = 0

    def add(
        self, address: npt.NDArray[np.integer], length_ns: npt.NDArray[np.int64], end_ns: npt.NDArray[np.int64]
    ) -> None:
        """Take gaps of addresses (int[n]) with their lengths and ends (int64[n])."""
        if not len(address):
            return  # live batches are small and many
        self._pending.append(np.stack([address.astype(np.int64), length_ns, end_ns - length_ns]))
        self._pending_count += len(address)
        if self._pending_count > _PENDING or len(self._pending) > _PENDING_PARTS:
            self._trim()

    def _trim(self) -> None:
        every = np.concatenate([self._kept, *self._pending], axis=1)
        self._pending, self._pending_count = [], 0
        every = every[:, np.lexsort((every[2], every[1], every[0]))]
        # In this order each address's longest stand last: count from the back of each address.
        ends = np.searchsorted(every[0], every[0], side="right")
        self._kept = every[:, ends - np.arange(every.shape[1]) <= _KEPT]

    def of(self, address: int) -> list[Gap]:
        """The long gaps of an address (or BUS), by start."""
        self._trim()
        mine = self._kept[:, self._kept[0] == address]
        return [Gap(int(length), int(start)) for _, length, start in mine[:, np.argsort(mine[2])].T]
