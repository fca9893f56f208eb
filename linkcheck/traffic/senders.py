"""Who talks: frames, bits, first and last time, periods and the longest silences, per identifier and per address.

Everything is counted per key (the tracker's dense number of an identifier) by `KeyTally`; addresses and PGNs are put
together from the keys at the end. Gaps of an address of 50 ms and more are kept one by one, the longest two
thousand of each, because a module that falls silent is the most telling thing a capture can show.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from linkcheck.frames import ERROR, EXTENDED, FrameBatch, Marks
from linkcheck.traffic.gaps import BUS, LONG_GAP_NS, Gap, LongGaps
from linkcheck.traffic.tally import KeyTally

__all__ = ["Senders"]


class Senders:
    """Counts of one channel, by key and by source address."""

    def __init__(self) -> None:
        self.tally = KeyTally()
        self._gaps = LongGaps()

    def eat(self, batch: FrameBatch, marks: Marks, keys: int) -> None:
        """Count a batch of one channel; `keys` is the number of keys the tracker knows by now."""
        self.tally.add(batch, marks, keys)
        rows = np.flatnonzero(marks.source_gap_ns >= LONG_GAP_NS)
        self._gaps.add(batch.identifier[rows] & 0xFF, marks.source_gap_ns[rows], batch.time_ns[rows])
        # An error frame ends no silence: the next good frame's gap covers it.
        rows = np.flatnonzero((marks.bus_gap_ns >= LONG_GAP_NS) & (batch.flags & ERROR == 0))
        self._gaps.add(np.full(len(rows), BUS), marks.bus_gap_ns[rows], batch.time_ns[rows])

    def gaps(self, address: int) -> list[Gap]:
        """The long gaps of an address (or BUS), by start."""
        return self._gaps.of(address)

    def of_address(self, identifiers: npt.NDArray[np.uint32], flags: npt.NDArray[np.uint8]) -> dict[int, list[int]]:
        """Keys with frames on this channel by source address, 29-bit identifiers only."""
        n = len(self.tally.count)
        wanted = (self.tally.count > 0) & (flags[:n] & (EXTENDED | ERROR) == EXTENDED)
        addresses: dict[int, list[int]] = {}
        for key in np.flatnonzero(wanted):
            addresses.setdefault(int(identifiers[key]) & 0xFF, []).append(int(key))
        return dict(sorted(addresses.items()))
