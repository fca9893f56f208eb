"""Counts by key: frames, bits, first and last time, gaps; and the longest gap of each source address.

Tables grow with the keys the tracker knows. The compiled kernel counts a batch in one pass; without it numpy does the
same in a dozen. Histograms are kept for the first `max_keys` keys only, so memory stays bounded on a bus of garbage.

Histograms are log-linear: a gap's bin is read from the bits of its floating-point form (the exponent and the top seven
bits of the fraction), which makes 128 equal steps an octave, quantiles within 0.4 %, and exact merging.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from linkcheck.frames import FrameBatch, Marks
from linkcheck.frames.kernel import pick_kernel

__all__ = ["BINS", "KeyTally", "bin_values_ns"]

_STEPS = 7  # bits of the fraction kept: 128 steps an octave
_SHIFT = 52 - _STEPS
_LOWEST = 13  # 2**13 ns = 8 us: shorter than any frame
_OCTAVES = 31  # up to 2**44 ns = 4.9 h
BINS = _OCTAVES << _STEPS
_FIRST_BIN = (1023 + _LOWEST) << _STEPS
_NEVER = np.iinfo(np.int64).max


class KeyTally:
    """The tables of one channel.

    Args:
        max_keys: keys that get a histogram.
        kernel: False for numpy, True for the kernel or an error, None for the kernel if there is one.

    Attributes:
        count, bits, first_ns, last_ns: int64[keys]. longest_ns: int64[256], by source address.

    """

    def __init__(self, max_keys: int = 2048, *, kernel: bool | None = None) -> None:
        self.max_keys = max_keys
        self._wanted = kernel  # not the kernel itself: a tally must be copied when an answer is asked for midway
        self.count = np.zeros(0, np.int64)
        self.bits = np.zeros(0, np.int64)
        self.first_ns = np.zeros(0, np.int64)
        self.last_ns = np.zeros(0, np.int64)
        self.longest_ns = np.zeros(256, np.int64)
        self._histogram = np.zeros(0, np.uint32)

    def add(self, batch: FrameBatch, marks: Marks, keys: int) -> None:
        """Count a batch of one channel; `keys` is the number of keys the tracker knows by now."""
        self._grow(keys)
        kernel = pick_kernel(self._wanted)
        if kernel is None:
            self._add(batch, marks, keys)
            return
        kernel.count(
            len(batch),
            keys,
            len(self._histogram) // BINS,
            BINS,
            _SHIFT,
            _FIRST_BIN,
            *map(
                np.ascontiguousarray,
                (
                    marks.key,
                    batch.identifier,
                    marks.wire_bits,
                    batch.time_ns,
                    marks.gap_ns,
                    marks.source_gap_ns,
                ),
            ),
            self.count,
            self.bits,
            self.first_ns,
            self.last_ns,
            self._histogram,
            self.longest_ns,
        )

    def _grow(self, keys: int) -> None:
        more = keys - len(self.count)
        if more > 0:
            self.count = np.pad(self.count, (0, more))
            self.bits = np.pad(self.bits, (0, more))
            self.last_ns = np.pad(self.last_ns, (0, more))
            self.first_ns = np.pad(self.first_ns, (0, more), constant_values=_NEVER)
            cells = min(keys, self.max_keys) * BINS
            self._histogram = np.pad(self._histogram, (0, cells - len(self._histogram)))

    def _add(self, batch: FrameBatch, marks: Marks, keys: int) -> None:
        """The kernel's work with numpy."""
        key = marks.key.astype(np.int64)
        self.count += np.bincount(key, minlength=keys)
        self.bits += np.bincount(key, marks.wire_bits, keys).astype(np.int64)
        self.last_ns[key] = batch.time_ns  # of rows with the same key the last one stays
        fresh = np.flatnonzero(marks.gap_ns < 0)
        np.minimum.at(self.first_ns, key[fresh], batch.time_ns[fresh])
        np.maximum.at(self.longest_ns, batch.identifier & 0xFF, marks.source_gap_ns)
        kept = (marks.gap_ns >= 0) & (key < self.max_keys)
        cell = key[kept] * BINS + _bins_of(marks.gap_ns[kept])
        self._histogram += np.bincount(cell, minlength=len(self._histogram)).astype(np.uint32)

    def gap_counts(self, key: int) -> npt.NDArray[np.int64]:
        """How many gaps of a key fell in each bin, int64[BINS]; all zero for a key without a histogram."""
        row = self._histogram[key * BINS : (key + 1) * BINS].astype(np.int64)
        return row if len(row) else np.zeros(BINS, np.int64)

    def gap_quantiles_ns(self, key: int, shares: tuple[float, ...]) -> tuple[float, ...] | None:
        """Gaps not exceeded by these shares of the key's gaps; None where there is no gap."""
        counts = self.gap_counts(key)
        total = int(counts.sum())
        if not total:
            return None
        ranks = np.maximum(1, np.ceil(np.array(shares) * total))
        values = bin_values_ns()[np.searchsorted(np.cumsum(counts), ranks)]
        return tuple(float(value) for value in values)


def _bins_of(gap_ns: npt.NDArray[np.int64]) -> npt.NDArray[np.int64]:
    bits = gap_ns.astype(np.float64).view(np.int64)
    bins: npt.NDArray[np.int64] = np.clip((bits >> _SHIFT) - _FIRST_BIN, 0, BINS - 1)
    return bins


def bin_values_ns() -> npt.NDArray[np.float64]:
    """The gap in the middle of each bin, float64[BINS]."""
    edges = ((np.arange(BINS + 1, dtype=np.int64) + _FIRST_BIN) << _SHIFT).view(np.float64)
    middles: npt.NDArray[np.float64] = (edges[:-1] + edges[1:]) / 2
    return middles
