"""Figures out of times: latency quantiles, and how an adapter's own time stamps run against the host's. Pure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

__all__ = ["WORST_DRIFT_ERROR_PPM", "Latency", "StampFigures", "latency", "stamp_figures"]

WORST_DRIFT_ERROR_PPM = 100.0  # crystals are within some 50 ppm: more says nothing


@dataclass(frozen=True, slots=True)
class Latency:
    """Milliseconds from handing over to arriving, less the time on the wire."""

    p50_ms: float
    p95_ms: float
    p99_ms: float
    max_ms: float
    frames: int

    @property
    def words(self) -> str:
        """The figures in a line."""
        return (
            f"p50 {self.p50_ms:.2f}, p95 {self.p95_ms:.2f}, p99 {self.p99_ms:.2f}, max {self.max_ms:.2f} ms "
            f"({self.frames} frames)"
        )


def latency(delays_ns: Sequence[float]) -> Latency:
    """Quantiles of delays; there must be at least one."""
    p50, p95, p99, top = (float(np.quantile(delays_ns, q)) / 1e6 for q in (0.5, 0.95, 0.99, 1.0))
    return Latency(round(p50, 3), round(p95, 3), round(p99, 3), round(top, 3), len(delays_ns))


@dataclass(frozen=True, slots=True)
class StampFigures:
    """An adapter's own stamps against the host's: steps back, jitter (99 % of both sides), drift with error."""

    frames: int
    backward: int
    jitter_ms: float
    drift_ppm: float
    drift_error_ppm: float  # two standard errors

    @property
    def words(self) -> str:
        """The figures in a line; no drift where the run was too short to tell one."""
        drift = f"drift {self.drift_ppm:+.0f} ±{self.drift_error_ppm:.0f} ppm"
        told = self.drift_error_ppm <= WORST_DRIFT_ERROR_PPM
        return (
            f"{self.backward} steps back; jitter {self.jitter_ms:.1f} ms, "
            f"{drift if told else 'too short a run to tell a drift'}"
        )


def stamp_figures(stamps_ms: Sequence[int], host_ns: Sequence[int], wrap_ms: int) -> StampFigures:
    """Compare stamps that wrap round with the host's times of the same frames.

    Args:
        stamps_ms: as the adapter gave them; at least three.
        host_ns: when the host had the frames; as many.
        wrap_ms: stamps run from 0 to one less and start again.

    """
    half = wrap_ms // 2  # a step is taken for the shorter way round
    steps = [(after - before + half) % wrap_ms - half for before, after in pairwise(stamps_ms)]
    unrolled = np.concatenate(([0], np.cumsum(steps))).astype(float)
    host_ms = (np.asarray(host_ns, np.int64) - host_ns[0]) / 1e6
    slope, offset = np.polyfit(host_ms, unrolled, 1) if host_ms[-1] > 0 else (1.0, 0.0)
    off = unrolled - (slope * host_ms + offset)
    spread = float(np.sqrt(((host_ms - host_ms.mean()) ** 2).sum()))
    error = float(np.sqrt((off**2).sum() / (len(off) - 2))) / spread if spread else np.inf
    return StampFigures(
        len(stamps_ms),
        sum(step < 0 for step in steps),
        round(float(np.quantile(np.abs(off), 0.99)), 3),
        round((float(slope) - 1.0) * 1e6, 1),
        round(2e6 * error, 1),
    )
