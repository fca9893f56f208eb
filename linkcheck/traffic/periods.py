"""What a key's gap histogram says: period, jitter, missed cycles, and an address's rhythm."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from linkcheck.traffic.silence import Rhythm
from linkcheck.traffic.tally import KeyTally, bin_values_ns

__all__ = ["Period", "period", "rhythm"]

_LEAST_GAPS = 8
_STEADY = 0.3  # width of the middle half of the gaps over the period, above which a message is not called periodic


@dataclass(frozen=True, slots=True)
class Period:
    """Median gap, half the width of the middle 90 % of gaps, and cycles missed (0 where not periodic at all)."""

    period_ns: float
    jitter_ns: float
    gaps: int
    steady: bool
    missed: int
    single_misses: int


def period(tally: KeyTally, key: int) -> Period | None:
    """The period of a key; None with fewer than two frames or where gaps were not kept."""
    quantiles = tally.gap_quantiles_ns(key, (0.05, 0.25, 0.5, 0.75, 0.95))
    if quantiles is None:
        return None
    low, quarter, middle, three_quarters, high = quantiles
    counts = tally.gap_counts(key)
    gaps = int(counts.sum())
    # The middle half is blind to a sender that misses every tenth cycle, and still beats its time.
    steady = gaps >= _LEAST_GAPS and three_quarters - quarter < _STEADY * middle
    missed, single = _misses(counts, middle) if steady else (0, 0)
    return Period(middle, (high - low) / 2, gaps, steady, missed, single)


def _misses(counts: npt.NDArray[np.int64], period_ns: float) -> tuple[int, int]:
    cycles = np.rint(bin_values_ns() / period_ns).astype(np.int64) - 1
    late = bin_values_ns() > 1.5 * period_ns
    missed = int((counts[late] * cycles[late]).sum())
    return missed, int(counts[late & (cycles == 1)].sum())


def rhythm(periods: list[Period]) -> Rhythm | None:
    """The rhythm of an address: its fastest steady message. None where nothing is periodic."""
    steady = [p for p in periods if p.steady]
    if not steady:
        return None
    fastest = min(steady, key=lambda p: p.period_ns)
    return Rhythm(fastest.period_ns, fastest.gaps + fastest.missed, fastest.single_misses)
