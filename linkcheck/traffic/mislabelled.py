"""Identifiers written with three digits that were 29 bits long on the wire.

Some recorders print a small 29-bit identifier as if it had 11 bits. The wire tells: back to back, such a frame takes
some twenty bits longer than an 11-bit frame can.
"""

from __future__ import annotations

import numpy as np

from linkcheck.frames import ERROR, EXTENDED, FD, REMOTE, FrameBatch
from linkcheck.frames.track import wire_bits
from linkcheck.traffic.window import Window

__all__ = ["MislabelWatch"]

_LEAST = 20


class MislabelWatch:
    """Gathers frames said to have 11 bits, with both possible lengths and the time each took."""

    def __init__(self) -> None:
        self._took_ns: list[np.ndarray] = []
        self._short: list[np.ndarray] = []
        self._long: list[np.ndarray] = []

    def examine(self, window: Window) -> None:
        """Take the 11-bit data frames of a window."""
        rows = np.flatnonzero((window.flags & (EXTENDED | ERROR | FD | REMOTE) == 0) & (window.bus_gap_ns > 0))[:4096]
        if not len(rows):
            return
        as_long = FrameBatch(
            ("",),
            window.time_ns[rows],
            np.zeros(len(rows), np.uint8),
            window.identifier[rows],
            window.flags[rows] | np.uint8(EXTENDED),
            window.length[rows],
            window.data[rows],
            np.zeros(0, np.int64),
            np.zeros((0, 64), np.uint8),
        )
        self._took_ns.append(window.bus_gap_ns[rows])
        self._short.append(window.wire_bits[rows])
        self._long.append(wire_bits(as_long))

    def share(self, rate: int) -> tuple[float, int] | None:
        """(share of frames that took a 29-bit frame's time, frames judged); None where too few followed closely.

        A frame is judged when the time it took fits one of the two lengths to within four bits.
        """
        if not self._took_ns:
            return None
        bits = np.concatenate(self._took_ns) * (rate / 1e9)
        off_short = np.abs(bits - np.concatenate(self._short))
        off_long = np.abs(bits - np.concatenate(self._long))
        judged = np.minimum(off_short, off_long) <= 4
        count = int(np.count_nonzero(judged))
        if count < _LEAST:
            return None
        return float(np.count_nonzero(off_long[judged] < off_short[judged])) / count, count
