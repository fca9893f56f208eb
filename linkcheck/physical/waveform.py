"""A scope's trace of the pair as values: CAN high and CAN low over time, their edges, bit rate and bits.

The bits are taken as a receiver takes them: an edge to dominant sets the clock, the sample comes at 87.5 % of the bit,
dominant is above 0.7 V (the typical threshold of the NXP TJA1051 data sheet rev. 7, table 7; with hysteresis, so that
noise at an edge is one edge). What the bits mean as frames is for `frames.received`; levels and decay are in `levels`.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
import numpy.typing as npt

from linkcheck.errors import DataError

__all__ = [
    "SAMPLE_POINT",
    "THRESHOLD_VOLTS",
    "Run",
    "Transitions",
    "Waveform",
    "measure_bit_rate",
    "runs",
    "transitions",
    "usual_rate",
]

Array = npt.NDArray[Any]

THRESHOLD_VOLTS, HYSTERESIS_VOLTS = 0.7, 0.1
SAMPLE_POINT = 0.875
IDLE_BITS = 6  # no frame holds six recessive bits in a row before its end: stuffing
FEWEST_EDGES = 6
USUAL_RATES = (10e3, 20e3, 33.333e3, 50e3, 83.333e3, 100e3, 125e3, 250e3, 500e3, 666.667e3, 800e3, 1e6)
NEAR_USUAL = 0.015  # scopes and oscillators are better than that together
FEWEST_SAMPLES = 100
GAP_BITS = (1.5, 11.0)  # from edge to edge inside a frame: 2 to 10 bits by stuffing; less is ringing, more idle time
SHORTEST_BIT_S, LONGEST_BIT_S = 0.9e-6, 110e-6
MOST_GAPS = 1000
IDLE_AFTER = 11  # recessive bits: delimiter, end of frame, interframe space
FITS = 0.8  # mean cosine of the edges' phases that passes for a bit time


@dataclass(frozen=True, eq=False)
class Waveform:
    """Volts of both lines to ground, at evenly spaced times.

    Args:
        start_s: time of the first sample on the scope's own scale.
        step_s: between samples.
        high_volts, low_volts: float[n] each.

    Raises:
        DataError: too few samples, or nothing finite in them.

    """

    start_s: float
    step_s: float
    high_volts: Array
    low_volts: Array

    def __post_init__(self) -> None:
        if len(self.high_volts) < FEWEST_SAMPLES:
            raise DataError(
                f"A trace of {len(self.high_volts)} samples shows no bits.",
                todo="Export the whole record, not only what is on the screen.",
            )
        if not (np.isfinite(self.high_volts).all() and np.isfinite(self.low_volts).all()):
            raise DataError("The trace has values that are no numbers.", todo="Export it again.")

    @cached_property
    def difference(self) -> Array:
        """CAN high less CAN low, volts."""
        return np.asarray(self.high_volts - self.low_volts)

    @property
    def length_s(self) -> float:
        """How long the trace is."""
        return len(self.high_volts) * self.step_s

    def swapped(self) -> Waveform:
        """The same with high and low changed over."""
        return Waveform(self.start_s, self.step_s, self.low_volts, self.high_volts)


@dataclass(frozen=True, slots=True, eq=False)
class Transitions:
    """Edges of the difference: seconds from the trace's start, and whether each goes to dominant; they alternate."""

    seconds: Array
    rising: Array
    starts_dominant: bool


@dataclass(frozen=True, slots=True, eq=False)
class Run:
    """Bits from a start of frame until the bus is idle again.

    Attributes:
        bits: uint8[n], 0 dominant, 1 recessive.
        start_s: float[n], where each bit begins, from the trace's start, by the edges seen.
        cut: the trace ended before the bus was idle.

    """

    bits: Array
    start_s: Array
    cut: bool


def transitions(wave: Waveform) -> Transitions:
    """Edges through the threshold, their times interpolated between samples."""
    volts = wave.difference
    upper, lower = THRESHOLD_VOLTS + HYSTERESIS_VOLTS / 2.0, THRESHOLD_VOLTS - HYSTERESIS_VOLTS / 2.0
    # Samples that say something: above, below; those between keep the level before them.
    told = np.flatnonzero((volts > upper) | (volts < lower))
    if not len(told):
        return Transitions(np.zeros(0), np.zeros(0, bool), starts_dominant=False)
    level = volts[told] > upper
    change = np.flatnonzero(level[1:] != level[:-1])
    before, after = told[change], told[change + 1]
    rising = level[change + 1]
    step = volts[after] - volts[before]
    seconds = (before + (after - before) * (THRESHOLD_VOLTS - volts[before]) / step) * wave.step_s
    return Transitions(seconds, rising, starts_dominant=bool(level[0]))


def measure_bit_rate(edges: Transitions) -> float | None:
    """Bit/s from the distances of edges to dominant, which all arrive alike; None where there are too few.

    The longest bit time of which (nearly) all distances are multiples, found by the phases they leave; a usual rate
    close by is not put in its place, so that a clock that is off shows.
    """
    marks = edges.seconds[edges.rising]
    if len(marks) < FEWEST_EDGES:
        return None
    gaps = np.diff(marks)[:MOST_GAPS]
    tried = np.geomspace(SHORTEST_BIT_S, LONGEST_BIT_S, 12_000)
    fit = np.array([_fit(gaps, bit) for bit in tried])
    good = np.flatnonzero(fit > max(FITS, 0.97 * fit.max()))
    if not len(good):
        return None
    # The longest bit time that fits is the true one: its fractions fit as well. Then to the top of its peak.
    longest = tried[good[-1]]
    near = np.abs(tried - longest) < 0.02 * longest
    guess = tried[near][fit[near].argmax()]
    inside = gaps[(gaps > GAP_BITS[0] * guess) & (gaps < GAP_BITS[1] * guess)]
    counts = np.rint(inside / guess)
    return float((counts @ counts) / (counts @ inside))


def _fit(gaps: Array, bit_s: float) -> float:
    """How well distances are multiples of a bit time, 1 at best; those no frame has are left out, if not too many."""
    inside = gaps[(gaps > GAP_BITS[0] * bit_s) & (gaps < GAP_BITS[1] * bit_s)]
    if len(inside) < max(FEWEST_EDGES - 1, len(gaps) / 2):
        return 0.0
    return float(np.cos(2.0 * np.pi * inside / bit_s).mean())


def usual_rate(bit_rate: float) -> float | None:
    """The usual bit rate this one is meant to be, if any."""
    near = min(USUAL_RATES, key=lambda rate: abs(np.log(rate / bit_rate)))
    return near if abs(bit_rate / near - 1.0) < NEAR_USUAL else None


def runs(wave: Waveform, edges: Transitions, bit_rate: float) -> Iterator[Run]:
    """Stretches of bits between idle times, sampled as a receiver would; what precedes the first idle time is left."""
    bit = 1.0 / bit_rate
    rising, falling = edges.seconds[edges.rising], edges.seconds[~edges.rising]
    last_fall = np.concatenate([[-np.inf if edges.starts_dominant else 0.0], falling])
    idle = rising - last_fall[np.searchsorted(falling, rising)]
    done = -np.inf
    for mark in rising[(idle >= IDLE_BITS * bit) & np.isfinite(idle)]:
        if mark >= done:
            run = _run(wave, edges, rising, float(mark), bit)
            done = run.start_s[-1]
            yield run


def _run(wave: Waveform, edges: Transitions, rising: Array, mark: float, bit: float) -> Run:
    """Bits from an edge on; every later edge to dominant sets the clock anew."""
    bits: list[int] = []
    starts: list[float] = []
    since, count, recessive, sampled = mark, 0, 0, mark
    while recessive < IDLE_AFTER:
        sample = since + (count + SAMPLE_POINT) * bit
        k = int(np.searchsorted(rising, sampled, side="right"))
        if bits and k < len(rising) and rising[k] <= sample:
            since, count = float(rising[k]), 0
            sample = since + SAMPLE_POINT * bit
        if sample >= wave.length_s:
            return Run(np.array(bits, np.uint8), np.array(starts), cut=True)
        passed = int(np.searchsorted(edges.seconds, sample))
        dominant = edges.starts_dominant ^ (passed % 2 == 1)
        recessive = 0 if dominant else recessive + 1
        bits.append(int(not dominant))
        starts.append(since + count * bit)
        count, sampled = count + 1, sample
    return Run(np.array(bits, np.uint8), np.array(starts), cut=False)
