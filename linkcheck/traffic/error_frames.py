"""What the error frames say: classes, places in the frame, controller states, counters, and whom they surround.

An error frame is the recorder's own observation. The frame that was destroyed is repeated at once and, having waited
longest, usually wins: so the next data frame's address is counted as the one the error surrounds.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field

import numpy as np

from linkcheck.frames import ERROR, EXTENDED, FrameBatch
from linkcheck.frames.bus_errors import BusError, decode_error
from linkcheck.traffic.series import Series

__all__ = ["ErrorFrames", "StateChange"]

_KEPT_CHANGES = 500
_STATES = (  # how the words of an error frame end, worst first
    ("bus off", "bus-off"),
    ("passive level", "error-passive"),
    ("warning level", "error-warning"),
    ("error-active", "error-active"),
    ("restarted", "restarted"),
)


@dataclass(frozen=True, slots=True)
class StateChange:
    """The recorder's controller reported a state at a time."""

    time_ns: int
    state: str


@dataclass(slots=True)
class ErrorFrames:
    """Counts error frames of one channel."""

    total: int = 0
    by_class: Counter[str] = field(default_factory=Counter)
    by_protocol: Counter[str] = field(default_factory=Counter)
    by_location: Counter[str] = field(default_factory=Counter)
    by_transceiver: Counter[str] = field(default_factory=Counter)
    by_controller: Counter[str] = field(default_factory=Counter)
    followed_by: Counter[int] = field(default_factory=Counter)
    states: list[StateChange] = field(default_factory=list)
    tx_errors_max: int | None = None
    rx_errors_max: int | None = None
    first_ns: int | None = None
    last_ns: int | None = None
    series: Series = field(default_factory=lambda: Series(1))
    _waiting: int = 0
    _state: str = ""

    def eat(self, batch: FrameBatch) -> None:
        """Count the error frames of a batch of one channel."""
        is_error = (batch.flags & ERROR) != 0
        rows = np.flatnonzero(is_error)
        if len(rows):
            self._count(batch, rows)
        if len(rows) or self._waiting:
            self._find_followers(batch, is_error, rows)

    def _count(self, batch: FrameBatch, rows: np.ndarray) -> None:
        self.total += len(rows)
        self.series.add(batch.time_ns[rows], (None,))
        times = batch.time_ns[rows]
        self.first_ns = int(times[0]) if self.first_ns is None else self.first_ns
        self.last_ns = int(times[-1])
        # Floods of errors repeat a few patterns: decode each pattern once.
        packed = np.zeros((len(rows), 12), np.uint8)
        packed[:, :4] = batch.identifier[rows].astype("<u4").view(np.uint8).reshape(-1, 4)
        packed[:, 4:] = batch.data[rows]
        patterns, place, counts = np.unique(packed, axis=0, return_inverse=True, return_counts=True)
        decoded = [decode_error(int(p[:4].view("<u4")[0]), p[4:].tobytes()) for p in patterns]
        for error, count in zip(decoded, counts, strict=True):
            self._tally(error, int(count))
        telling = np.array([bool(_state_of(error)) for error in decoded])
        for i in np.flatnonzero(telling[place.ravel()]):
            self._note_state(int(times[i]), _state_of(decoded[place.ravel()[i]]))

    def _tally(self, error: BusError, count: int) -> None:
        for names, counter in (
            (error.classes, self.by_class),
            (error.protocol, self.by_protocol),
            ((error.location,) if error.location else (), self.by_location),
            (error.transceiver, self.by_transceiver),
            (error.controller, self.by_controller),
        ):
            for name in names:
                counter[name] += count
        if error.tx_errors is not None:
            self.tx_errors_max = max(self.tx_errors_max or 0, error.tx_errors)
        if error.rx_errors is not None:
            self.rx_errors_max = max(self.rx_errors_max or 0, error.rx_errors)

    def _note_state(self, time_ns: int, state: str) -> None:
        if state != self._state and len(self.states) < _KEPT_CHANGES:
            self.states.append(StateChange(time_ns, state))
        self._state = state

    def _find_followers(self, batch: FrameBatch, is_error: np.ndarray, rows: np.ndarray) -> None:
        normal = np.flatnonzero(~is_error)
        after = np.searchsorted(normal, rows) if len(rows) else np.zeros(0, np.intp)
        if self._waiting and len(normal):
            self._follow(batch, int(normal[0]), self._waiting)
            self._waiting = 0
        reached = after < len(normal)
        followers, counts = np.unique(normal[after[reached]], return_counts=True)
        for row, count in zip(followers, counts, strict=True):
            self._follow(batch, int(row), int(count))
        self._waiting += int(np.count_nonzero(~reached))

    def _follow(self, batch: FrameBatch, row: int, count: int) -> None:
        if batch.flags[row] & EXTENDED:
            self.followed_by[int(batch.identifier[row]) & 0xFF] += count


def _state_of(error: BusError) -> str:
    """The controller state an error frame reports, worst first; empty where it reports none."""
    words = (*error.classes, *error.controller)
    return next((state for mark, state in _STATES for word in words if word.endswith(mark)), "")
