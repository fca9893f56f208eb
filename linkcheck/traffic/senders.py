"""Who talks: frames, bits, first and last time, periods and the longest silences, per identifier and per address.

Everything is counted per key (the tracker's dense number of an identifier) over whole columns; addresses and PGNs are
put together from the keys at the end. Gaps of an address of 50 ms and more are kept one by one, the longest two
thousand of each, because a module that falls silent is the most telling thing a capture can show.
"""

from __future__ import annotations

import heapq
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from linkcheck.frames import ERROR, EXTENDED, FrameBatch, Marks
from linkcheck.traffic.histogram import GapHistogram

__all__ = ["BUS", "LONG_GAP_NS", "Gap", "Senders"]

LONG_GAP_NS = 50_000_000  # shorter gaps are read off the histograms
KEPT_GAPS = 2000
BUS = -1  # stands for "any address" among the gaps
_NEVER = np.iinfo(np.int64).max


@dataclass(frozen=True, slots=True, order=True)
class Gap:
    """A stretch without frames: its length and start in nanoseconds. Ordered by length."""

    length_ns: int
    start_ns: int

    @property
    def end_ns(self) -> int:
        """When the next frame ended it."""
        return self.start_ns + self.length_ns


class Senders:
    """Counts of one channel, by key and by source address."""

    def __init__(self) -> None:
        self.histogram = GapHistogram()
        self.count = np.zeros(0, np.int64)
        self.bits = np.zeros(0, np.int64)
        self.first_ns = np.zeros(0, np.int64)
        self.last_ns = np.zeros(0, np.int64)
        self.longest_ns = np.zeros(256, np.int64)  # by source address
        self._gaps: dict[int, list[Gap]] = {}

    def eat(self, batch: FrameBatch, marks: Marks, keys: int) -> None:
        """Count a batch of one channel; `keys` is the number of keys the tracker knows by now."""
        self._grow(keys)
        key, time_ns = marks.key, batch.time_ns
        self.count += np.bincount(key, minlength=keys)
        self.bits += np.bincount(key, marks.wire_bits, keys).astype(np.int64)
        self.last_ns[key] = time_ns  # of rows with the same key the last one stays
        fresh = np.flatnonzero(marks.gap_ns < 0)
        for row in fresh:
            k = int(key[row])
            self.first_ns[k] = min(self.first_ns[k], time_ns[row])
        self.histogram.add(key, marks.gap_ns)
        self._keep_long_gaps(batch, marks)

    def _grow(self, keys: int) -> None:
        more = keys - len(self.count)
        if more > 0:
            self.count = np.pad(self.count, (0, more))
            self.bits = np.pad(self.bits, (0, more))
            self.last_ns = np.pad(self.last_ns, (0, more))
            self.first_ns = np.pad(self.first_ns, (0, more), constant_values=_NEVER)

    def _keep_long_gaps(self, batch: FrameBatch, marks: Marks) -> None:
        source = batch.identifier.astype(np.uint8)
        for row in np.flatnonzero(marks.source_gap_ns > self.longest_ns[source]):
            address = int(source[row])
            self.longest_ns[address] = max(self.longest_ns[address], marks.source_gap_ns[row])
        for row in np.flatnonzero(marks.source_gap_ns >= LONG_GAP_NS):
            self._keep(int(source[row]), int(marks.source_gap_ns[row]), int(batch.time_ns[row]))
        for row in np.flatnonzero(marks.bus_gap_ns >= LONG_GAP_NS):
            self._keep(BUS, int(marks.bus_gap_ns[row]), int(batch.time_ns[row]))

    def _keep(self, address: int, length_ns: int, end_ns: int) -> None:
        heap = self._gaps.setdefault(address, [])
        gap = Gap(length_ns, end_ns - length_ns)
        if len(heap) < KEPT_GAPS:
            heapq.heappush(heap, gap)
        elif heap[0] < gap:
            heapq.heapreplace(heap, gap)

    def gaps(self, address: int) -> list[Gap]:
        """The long gaps of an address (or BUS), by start."""
        return sorted(self._gaps.get(address, []), key=lambda gap: gap.start_ns)

    def of_address(self, identifiers: npt.NDArray[np.uint32], flags: npt.NDArray[np.uint8]) -> dict[int, list[int]]:
        """Keys with frames on this channel by source address, 29-bit identifiers only."""
        n = len(self.count)
        wanted = (self.count > 0) & (flags[:n] & (EXTENDED | ERROR) == EXTENDED)
        addresses: dict[int, list[int]] = {}
        for key in np.flatnonzero(wanted):
            addresses.setdefault(int(identifiers[key]) & 0xFF, []).append(int(key))
        return dict(sorted(addresses.items()))
