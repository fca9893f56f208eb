"""One steady clock for captures: starts at the host's time of day and then never jumps.

The host's clock may be set while we listen (network time, a technician, a flat coin cell). Time stamps go on evenly
here, and the step is told.
"""

from __future__ import annotations

import time
from collections.abc import Callable

__all__ = ["SteadyClock"]

_LEAST_STEP_NS = 50_000_000  # smaller ones are the host being disciplined, or this process being late


class SteadyClock:
    """Nanoseconds since the epoch as they were at the start, plus time elapsed.

    Args:
        start: another clock's `start`, in this or another process of this machine, to run exactly as that one does.
        wall_ns, steady_ns: the host's clocks; tests give their own.

    Attributes:
        start: time of day less steady time, when the clock was made.

    """

    def __init__(
        self,
        start: int | None = None,
        *,
        wall_ns: Callable[[], int] = time.time_ns,
        steady_ns: Callable[[], int] = time.monotonic_ns,
    ) -> None:
        self._wall_ns, self._steady_ns = wall_ns, steady_ns
        self._last = self._offset()
        self.start = self._last if start is None else start

    def _offset(self) -> int:
        return self._wall_ns() - self._steady_ns()

    def now_ns(self) -> int:
        """The time now."""
        return self._steady_ns() + self.start

    def from_wall(self, wall_ns: int) -> int:
        """A time stamp of the host's clock (the kernel's, a driver's), on this clock."""
        return wall_ns - (self._last - self.start)

    def step_ns(self) -> int:
        """How far the host's clock was set since the last call; 0 if it was not."""
        offset = self._offset()
        step = offset - self._last
        if abs(step) < _LEAST_STEP_NS:
            return 0
        self._last = offset
        return step
