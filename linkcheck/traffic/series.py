"""What happened when: sums in windows of 100 ms, exact peaks, and a coarse series for plots, in bounded memory.

Windows are laid from the channel's first frame. A window stays open until time is two seconds past it, so frames
slightly out of order still land where they belong; then it is closed into the running peaks and into a series of at
most 2,048 cells whose width doubles whenever the recording outgrows it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

__all__ = ["WINDOW_NS", "Peak", "Series"]

WINDOW_NS = 100_000_000
PER_SECOND = 10  # windows in the longer peak
_OPEN = 32  # windows kept open: two seconds of disorder and a second for the longer peak
_CELLS = 2048


@dataclass(frozen=True, slots=True)
class Peak:
    """The largest sum in a complete window, and when that window began (ns, the source's clock)."""

    value: int
    start_ns: int


class Series:
    """Sums of `columns` quantities over time. The first column has its peaks kept."""

    def __init__(self, columns: int) -> None:
        self.first_ns: int | None = None
        self._base = 0  # number of the first open window
        self._open = np.zeros((columns, 0), np.int64)
        self._cells = np.zeros((columns, _CELLS), np.int64)
        self._most = np.zeros(_CELLS, np.int64)  # the largest 100 ms sum of the first column inside the cell
        self.windows_per_cell = 1
        self._recent = np.zeros(0, np.int64)  # closed windows that a one-second window still needs
        self.peak_100ms: Peak | None = None
        self.peak_1s: Peak | None = None

    def add(self, time_ns: npt.NDArray[np.int64], amounts: tuple[npt.NDArray[np.generic] | None, ...]) -> None:
        """Add amounts (each [n], None for one apiece) at times (int64[n], nearly ascending)."""
        if not len(time_ns):
            return
        if self.first_ns is None:
            self.first_ns = int(time_ns[0])
        since = time_ns - self.first_ns
        lowest, highest = int(since.min()), int(since.max())
        top = max(self._base, highest // WINDOW_NS)
        wanted = top - self._base + 1
        if wanted > self._open.shape[1]:
            self._open = np.pad(self._open, ((0, 0), (0, wanted - self._open.shape[1])))
        if bool((since[1:] >= since[:-1]).all()) and lowest >= self._base * WINDOW_NS:
            self._add_sorted(since, amounts, lowest // WINDOW_NS, top)
        else:
            place = np.clip(since // WINDOW_NS, self._base, None) - self._base
            for row, amount in enumerate(amounts):
                self._open[row] += np.bincount(place, amount, self._open.shape[1]).astype(np.int64)
        self._close(top - _OPEN)

    def _add_sorted(
        self,
        since: npt.NDArray[np.int64],
        amounts: tuple[npt.NDArray[np.generic] | None, ...],
        bottom: int,
        top: int,
    ) -> None:
        edges = np.arange(bottom + 1, top + 1) * WINDOW_NS
        cuts = np.concatenate([[0], np.searchsorted(since, edges)])
        counts = np.diff(cuts, append=len(since))
        filled = np.flatnonzero(counts)
        where = filled + bottom - self._base
        for row, amount in enumerate(amounts):
            sums = counts[filled] if amount is None else np.add.reduceat(amount, cuts[filled], dtype=np.int64)
            self._open[row, where] += sums

    def _close(self, below: int) -> None:
        """Close all windows with numbers less than `below`."""
        count = min(below - self._base, self._open.shape[1])
        if count <= 0:
            return
        closed, self._open = self._open[:, :count], self._open[:, count:].copy()
        start = self._base
        self._base += count
        self._keep_peaks(closed[0], start)
        while (start + count - 1) // self.windows_per_cell >= _CELLS:
            self._halve()
        cells = np.arange(start, start + count) // self.windows_per_cell
        for row in range(len(self._cells)):
            np.add.at(self._cells[row], cells, closed[row])
        np.maximum.at(self._most, cells, closed[0])

    def _keep_peaks(self, sums: npt.NDArray[np.int64], start: int) -> None:
        self.peak_100ms = self._higher(self.peak_100ms, sums, start, 1)
        joined = np.concatenate([self._recent, sums])
        first = start - len(self._recent)
        whole = len(joined) // PER_SECOND
        seconds = joined[: whole * PER_SECOND].reshape(whole, PER_SECOND).sum(axis=1)
        self.peak_1s = self._higher(self.peak_1s, seconds, first // PER_SECOND, PER_SECOND)
        self._recent = joined[whole * PER_SECOND :]

    def _higher(self, best: Peak | None, sums: npt.NDArray[np.int64], start: int, windows: int) -> Peak | None:
        if not len(sums):
            return best
        at = int(np.argmax(sums))
        if best is not None and best.value >= sums[at]:
            return best
        return Peak(int(sums[at]), (self.first_ns or 0) + (start + at) * windows * WINDOW_NS)

    def _halve(self) -> None:
        half = _CELLS // 2
        for row in range(len(self._cells)):
            self._cells[row, :half] = self._cells[row].reshape(half, 2).sum(axis=1)
            self._cells[row, half:] = 0
        self._most[:half] = self._most.reshape(half, 2).max(axis=1)
        self._most[half:] = 0
        self.windows_per_cell *= 2

    def snapshot(self, last_ns: int) -> SeriesView:
        """The series as it stands, windows still open included. Peaks count windows complete before `last_ns`."""
        if self.first_ns is None:
            return SeriesView(
                0, WINDOW_NS, np.zeros((len(self._cells), 0), np.int64), np.zeros(0, np.int64), None, None
            )
        copy = Series(len(self._cells))
        copy.first_ns, copy._base, copy.windows_per_cell = self.first_ns, self._base, self.windows_per_cell
        copy._open, copy._cells, copy._most = self._open.copy(), self._cells.copy(), self._most.copy()
        copy._recent, copy.peak_100ms, copy.peak_1s = self._recent, self.peak_100ms, self.peak_1s
        complete = max(self._base, (last_ns - self.first_ns) // WINDOW_NS)
        copy._close(int(complete))
        peaks = copy.peak_100ms, copy.peak_1s
        copy._close(copy._base + copy._open.shape[1])
        used = -(-copy._base // copy.windows_per_cell)
        return SeriesView(
            self.first_ns,
            copy.windows_per_cell * WINDOW_NS,
            copy._cells[:, :used],
            copy._most[:used],
            *peaks,
        )


@dataclass(frozen=True, slots=True, eq=False)
class SeriesView:
    """A series at rest: `sums` int64[columns, cells] of `cell_ns` each from `first_ns`; `most` int64[cells]."""

    first_ns: int
    cell_ns: int
    sums: npt.NDArray[np.int64]
    most: npt.NDArray[np.int64]
    peak_100ms: Peak | None
    peak_1s: Peak | None
