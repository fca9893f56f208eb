"""Records of several ports as one stream in order of time.

Each port's records are in order already, and each port tells up to when it has delivered everything. What is older
than the slowest port's time is complete and goes on; the rest waits, so that no analyser sees time go back only because
one process was slower than another.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from linkcheck.frames import FrameBatch
from linkcheck.frames.records import RECORD, batch_of

__all__ = ["Merge"]


class Merge:
    """Holds records until they are complete.

    Args:
        channels: names, by the numbers `add` is given.

    """

    def __init__(self, channels: tuple[str, ...]) -> None:
        self._channels = channels
        self._waiting: list[npt.NDArray[np.void]] = []

    def add(self, number: int, body: bytes) -> None:
        """Take packed records of a channel."""
        records = np.frombuffer(body, RECORD).copy()
        records["channel"] = number
        self._waiting.append(records)

    def take(self, until_ns: int | None) -> FrameBatch:
        """Everything up to a time, in order; everything at all for None."""
        if not self._waiting:
            return batch_of(b"", self._channels)
        records = np.concatenate(self._waiting)
        records = records[np.argsort(records["time_ns"], kind="stable")]
        count = len(records) if until_ns is None else int(np.searchsorted(records["time_ns"], until_ns, "right"))
        self._waiting = [records[count:]] if count < len(records) else []
        return batch_of(records[:count].tobytes(), self._channels)
