"""Who talks: frames, bits, first and last time, periods and the longest silences, per identifier and per address.

Everything is counted per key (the tracker's dense number of an identifier) over whole columns; addresses and PGNs are
put together from the keys at the end. Gaps of an address of 50 ms and more are kept one by one, the longest two
thousand of each, because a module that falls silent is the most telling thing a capture can show.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from linkcheck.frames import ERROR, EXTENDED, FrameBatch, Marks
from linkcheck.traffic.gaps import BUS, LONG_GAP_NS, Gap, LongGaps
from linkcheck.traffic.histogram import GapHistogram

__all__ = ["Senders"]

_NEVER = np.iinfo(np.int64).max


class Senders:
    """Counts of one channel, by key and by source address."""

    def __init__(self) -> None:
        self.histogram = GapHistogram()
        self.count = np.zeros(0, np.int64)
        self.bits = np.zeros(0, np.int64)
        self.first_ns = np.zeros(0, np.int64)
        self.last_ns = np.zeros(0, np.int64)
        self.longest_ns = np.zeros(256, np.int64)  # by source address
        self._gaps = LongGaps()

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
        longer = np.flatnonzero(marks.source_gap_ns > self.longest_ns[source])
        np.maximum.at(self.longest_ns, source[longer], marks.source_gap_ns[longer])
        rows = np.flatnonzero(marks.source_gap_ns >= LONG_GAP_NS)
        self._gaps.add(source[rows], marks.source_gap_ns[rows], batch.time_ns[rows])
        # An error frame ends no silence: the next good frame's gap covers it.
        rows = np.flatnonzero((marks.bus_gap_ns >= LONG_GAP_NS) & (batch.flags & ERROR == 0))
        self._gaps.add(np.full(len(rows), BUS), marks.bus_gap_ns[rows], batch.time_ns[rows])

    def gaps(self, address: int) -> list[Gap]:
        """The long gaps of an address (or BUS), by start."""
        return self._gaps.of(address)

    def of_address(self, identifiers: npt.NDArray[np.uint32], flags: npt.NDArray[np.uint8]) -> dict[int, list[int]]:
        """Keys with frames on this channel by source address, 29-bit identifiers only."""
        n = len(self.count)
        wanted = (self.count > 0) & (flags[:n] & (EXTENDED | ERROR) == EXTENDED)
        addresses: dict[int, list[int]] = {}
        for key in np.flatnonzero(wanted):
            addresses.setdefault(int(identifiers[key]) & 0xFF, []).append(int(key))
        return dict(sorted(addresses.items()))
