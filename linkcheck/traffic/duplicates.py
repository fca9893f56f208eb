"""Two devices under one address: their frames of one identifier interleave.

Two senders with the same period P, each steady, give gaps that alternate between a and P - a, while every second gap
sum is P as exactly as a single sender's would be. So the spread of lag-two gaps is far below the spread of lag-one
gaps. One sender with a jittery clock shows the opposite. Different content in the odd and the even frames makes it
sure. Looked at per window, so that slow drift of the two clocks does not smear it.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from linkcheck.frames import ERROR, EXTENDED
from linkcheck.j1939.identifier import split
from linkcheck.j1939.messages import TP_CM, TP_DT
from linkcheck.traffic.window import Window

__all__ = ["DuplicateWatch", "Interleaved"]

_LEAST = 24  # frames of an identifier in a window
_UNEVEN = 0.15  # spread of gaps, as a share of the middle gap, from which alternation is worth a look
_STEADIER = 0.35  # lag-two spread over lag-one spread, below which two senders explain it


@dataclass(frozen=True, slots=True)
class Interleaved:
    """An identifier whose frames come as two trains: period of each, and the bytes that differ between them."""

    address: int
    pgn: int
    period_ms: float
    differing_bytes: tuple[int, ...]


@dataclass(slots=True)
class DuplicateWatch:
    """Examines windows and keeps the identifiers that look like two trains."""

    found: dict[tuple[int, int], Interleaved] = field(default_factory=dict)

    def examine(self, window: Window) -> None:
        """Look at every identifier of a window."""
        normal = window.flags & (EXTENDED | ERROR) == EXTENDED
        order = np.argsort(window.key[normal], kind="stable")
        rows = np.flatnonzero(normal)[order]
        keys = window.key[rows]
        for part in np.split(rows, np.flatnonzero(np.diff(keys)) + 1):
            if len(part) >= _LEAST:
                self._look(window, part)

    def _look(self, window: Window, rows: npt.NDArray[np.intp]) -> None:
        times = window.time_ns[rows]
        single, double = np.diff(times), times[2:] - times[:-2]
        middle = float(np.median(single))
        if middle <= 0 or _spread(single) < _UNEVEN * middle or _spread(double) > _STEADIER * _spread(single):
            return
        who = split(int(window.identifier[rows[0]]))
        if who.pgn in (TP_CM, TP_DT):
            return  # packets of two transfers interleave by nature
        payload = window.data[rows]
        even, odd = payload[::2], payload[1::2]
        differing = tuple(
            byte + 1
            for byte in range(8)
            if _constant(even[:, byte]) != _constant(odd[:, byte]) or _apart(even, odd, byte)
        )
        self.found.setdefault(
            (who.source, who.pgn), Interleaved(who.source, who.pgn, float(np.median(double)) / 1e6, differing)
        )


def _spread(values: npt.NDArray[np.int64]) -> float:
    """Half the width of the middle 80 %: blind to the odd dropout."""
    ordered = np.sort(values)
    return float(ordered[len(ordered) * 9 // 10] - ordered[len(ordered) // 10]) / 2


def _constant(column: npt.NDArray[np.uint8]) -> int | None:
    return int(column[0]) if bool((column == column[0]).all()) else None


def _apart(even: npt.NDArray[np.uint8], odd: npt.NDArray[np.uint8], byte: int) -> bool:
    """Whether the byte's values in the two trains do not overlap at all."""
    a, b = even[:, byte], odd[:, byte]
    return bool(a.min() > b.max() or b.min() > a.max())
