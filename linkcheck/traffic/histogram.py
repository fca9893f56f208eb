"""Log-linear histograms of time gaps: bounded memory, exact merging, quantiles within 0.4 %.

A gap's bin is read from the bits of its floating-point form: the exponent and the top seven bits of the fraction,
which makes 128 equal steps an octave. That costs three passes over the column and no logarithm.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

__all__ = ["BINS", "GapHistogram", "bin_values_ns", "gap_bins"]

_STEPS = 7  # bits of the fraction kept: 128 steps an octave
_SHIFT = 52 - _STEPS
_LOWEST = 13  # 2**13 ns = 8 us: shorter than any frame
_OCTAVES = 31  # up to 2**44 ns = 4.9 h
BINS = _OCTAVES << _STEPS
_OFFSET = (1023 + _LOWEST) << _STEPS


def gap_bins(gap_ns: npt.NDArray[np.int64]) -> npt.NDArray[np.int64]:
    """The bin of each gap (int64[n], nanoseconds, not negative); out of range goes to the outermost bins."""
    bits = gap_ns.astype(np.float64).view(np.int64)
    bits >>= _SHIFT
    bits -= _OFFSET
    return np.clip(bits, 0, BINS - 1, out=bits)


def bin_values_ns() -> npt.NDArray[np.float64]:
    """The gap in the middle of each bin, float64[BINS]."""
    edges = ((np.arange(BINS + 1, dtype=np.int64) + _OFFSET) << _SHIFT).view(np.float64)
    middles: npt.NDArray[np.float64] = (edges[:-1] + edges[1:]) / 2
    return middles


class GapHistogram:
    """One histogram a key, for the first `max_keys` keys; gaps of later keys are not kept.

    Gaps are gathered and counted a million at a time: the table is far larger than one batch.
    """

    def __init__(self, max_keys: int = 2048) -> None:
        self.max_keys = max_keys
        self._table = np.zeros(0, np.uint32)
        self._pending: list[npt.NDArray[np.int64]] = []
        self._pending_count = 0

    def add(self, key: npt.NDArray[np.uint32], gap_ns: npt.NDArray[np.int64]) -> None:
        """Count gaps (int64[n]) of keys (uint32[n]); a negative gap means there was none before."""
        cell = gap_bins(gap_ns)
        cell += key.astype(np.int64) * BINS
        if gap_ns.min(initial=0) < 0 or key.max(initial=0) >= self.max_keys:
            cell = cell[(gap_ns >= 0) & (key < self.max_keys)]
        self._pending.append(cell)
        self._pending_count += len(cell)
        if self._pending_count >= 1 << 20:
            self._settle()

    def _settle(self) -> None:
        if not self._pending:
            return
        counts = np.bincount(np.concatenate(self._pending))
        self._pending, self._pending_count = [], 0
        if len(counts) > len(self._table):
            rows = -(-len(counts) // BINS)
            self._table = np.concatenate([self._table, np.zeros(rows * BINS - len(self._table), np.uint32)])
        self._table[: len(counts)] += counts.astype(np.uint32)

    def counts(self, key: int) -> npt.NDArray[np.int64]:
        """How many gaps fell in each bin, int64[BINS]."""
        self._settle()
        row = self._table[key * BINS : (key + 1) * BINS].astype(np.int64)
        return row if len(row) else np.zeros(BINS, np.int64)

    def quantiles_ns(self, key: int, shares: tuple[float, ...]) -> tuple[float, ...] | None:
        """Gaps not exceeded by these shares of the key's gaps; None where there is no gap."""
        counts = self.counts(key)
        total = int(counts.sum())
        if not total:
            return None
        cumulated = np.cumsum(counts)
        ranks = np.maximum(1, np.ceil(np.array(shares) * total))
        values = bin_values_ns()[np.searchsorted(cumulated, ranks)]
        return tuple(float(value) for value in values)
