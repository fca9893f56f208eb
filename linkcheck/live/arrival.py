"""What the moment of arrival says, where an adapter or the host stamps frames only as they are read.

Frames read in one block carry one time, although no two can be on the wire at once: they are spread back to the
latest times they can have had. And a block that holds more than the bus can have carried since the last one proves
that frames were held up on their way, so a gap before it is not the bus's. Both use the shortest length a frame can
have (no stuff bits: ISO 11898-1, frame format), which makes the proof safe.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from linkcheck.frames import ERROR, EXTENDED, REMOTE

__all__ = ["SLACK_NS", "Backlog", "least_ns", "spread"]

SLACK_NS = 30_000_000  # USB adapters hand over every 1 to 16 ms; less than this is nobody's fault
_STANDARD_BITS, _EXTENDED_BITS = 47, 67  # frame and interframe space without data


def least_ns(records: npt.NDArray[np.void], bit_rate: int) -> npt.NDArray[np.int64]:
    """The shortest time each record's frame can have taken; 0 for error frames, which may only be reports."""
    bits = np.where(records["flags"] & EXTENDED, _EXTENDED_BITS, _STANDARD_BITS)
    bits = bits + 8 * np.where(records["flags"] & REMOTE, 0, np.minimum(records["length"], 8))
    bits[(records["flags"] & ERROR) != 0] = 0
    took: npt.NDArray[np.int64] = bits.astype(np.int64) * 1_000_000_000 // bit_rate
    return took


class Backlog:
    """How far what arrives is behind the bus: time on the wire of what came, less the time that passed."""

    def __init__(self) -> None:
        self._behind_ns = 0
        self._told = False

    def add(self, records: npt.NDArray[np.void], bit_rate: int, waited_ns: int) -> int:
        """Take a block that came `waited_ns` after the last one.

        Returns:
            How long frames must have been held up, once for each delay; 0 otherwise.

        """
        self._behind_ns = max(0, self._behind_ns + int(least_ns(records, bit_rate).sum()) - waited_ns)
        if self._behind_ns <= SLACK_NS:
            self._told = self._told and self._behind_ns > 0
            return 0
        fresh, self._told = not self._told, True
        return self._behind_ns if fresh else 0


def spread(records: npt.NDArray[np.void], bit_rate: int, not_before_ns: int) -> None:
    """Spread records that share one time, in place; none gets earlier than `not_before_ns` or than its predecessor."""
    times = records["time_ns"]
    took = least_ns(records, bit_rate)
    # Time on the wire of all later records of the same block: the total at the block's end less the total here.
    total = np.cumsum(took)
    ends = np.searchsorted(times, times, side="right") - 1
    spread_out = times - (total[ends] - total)
    records["time_ns"] = np.maximum.accumulate(np.maximum(spread_out, min(not_before_ns, int(times[0]))))
