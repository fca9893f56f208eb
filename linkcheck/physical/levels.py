"""Levels and edges measured on a trace: volts of chosen stretches, and the mean of many falling edges.

Edges are laid over each other at the moment they pass the threshold and averaged: noise shrinks, and between the
scope's samples the shape is told more finely than one edge would tell it. Judgement is left to `termination`.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from linkcheck.physical.edges import RECESSIVE_VOLTS, rebound
from linkcheck.physical.waveform import THRESHOLD_VOLTS, Transitions, Waveform

__all__ = ["Fall", "Level", "fall_of", "level_of", "mean_edge", "overshoot", "shape", "slow_fall"]

Array = npt.NDArray[Any]

STARTED = 0.9  # of the driven volts: below it the fall has begun
LEAST_S = 10e-9


@dataclass(frozen=True, slots=True)
class Level:
    """Median volts of both lines over some stretches, and over how many samples."""

    high_volts: float
    low_volts: float
    samples: int

    @property
    def difference_volts(self) -> float:
        """CAN high less CAN low."""
        return self.high_volts - self.low_volts

    @property
    def common_volts(self) -> float:
        """Mean of both."""
        return (self.high_volts + self.low_volts) / 2.0


@dataclass(frozen=True, slots=True)
class Fall:
    """The shape of an edge to recessive.

    Attributes:
        driven_volts: difference before it.
        decay_s: from 90 % of that to below 0.5 V for good; infinite where it did not get there.
        half_s: from 90 % to half.
        under_volts: how far below zero it went.
        ring_volts: how high it rose again after first passing 0.5 V.
        edges: over how many edges the mean was taken.

    """

    driven_volts: float
    decay_s: float
    half_s: float
    under_volts: float
    ring_volts: float
    edges: int


def level_of(wave: Waveform, stretches: Iterable[tuple[float, float]]) -> Level | None:
    """The level over stretches (from, to) in seconds from the trace's start; None where they hold no sample."""
    pieces = [slice(max(0, int(np.ceil(a / wave.step_s))), max(0, int(b / wave.step_s))) for a, b in stretches]
    rows = [np.arange(len(wave.high_volts))[piece] for piece in pieces]
    picked = np.concatenate(rows) if rows else np.zeros(0, int)
    if not len(picked):
        return None
    return Level(float(np.median(wave.high_volts[picked])), float(np.median(wave.low_volts[picked])), len(picked))


def mean_edge(wave: Waveform, edges_s: Array, before_s: float, after_s: float) -> tuple[Array, float] | None:
    """The mean of edges of one direction, from `before_s` before to `after_s` after the threshold: volts and step.

    None where no edge lies wholly inside the trace.
    """
    inside = edges_s[(edges_s > before_s) & (edges_s + after_s < wave.length_s - wave.step_s)]
    if not len(inside):
        return None
    step = wave.step_s / min(8, len(inside))  # what the edges lack in samples they have in number
    offsets = np.arange(-before_s, after_s, step)
    times = np.arange(len(wave.difference)) * wave.step_s
    laid = np.interp(inside[:, None] + offsets, times, wave.difference)
    return laid.mean(axis=0), float(step)


def fall_of(wave: Waveform, edges_s: Array, bit_s: float) -> Fall | None:
    """The mean shape of falling edges that are followed by two recessive bits at least."""
    # A slow fall passes the threshold late: look back over the whole dominant bit.
    found = mean_edge(wave, edges_s, 0.95 * bit_s, 1.8 * bit_s)
    if found is None:
        return None
    volts, step = found
    quiet = max(1, int(0.15 * bit_s / step))
    return shape(volts, step, float(np.median(volts[:quiet])), len(edges_s))


def overshoot(wave: Waveform, edges_s: Array, bit_s: float) -> float | None:
    """Volts that the mean edge to dominant goes above the level it settles at."""
    found = mean_edge(wave, edges_s, 0.1 * bit_s, 0.8 * bit_s)
    if found is None:
        return None
    volts, step = found
    settled = np.median(volts[int(0.6 * bit_s / step) :])
    return max(0.0, float(volts.max() - settled))


def shape(volts: Array, step_s: float, driven_volts: float, edges: int = 1) -> Fall:
    """Figures of one falling edge: volts over time, beginning while it is still driven."""
    half = _first(volts < driven_volts / 2.0)
    started = _after_last(volts > STARTED * driven_volts, upto=half)
    below = _first(volts < RECESSIVE_VOLTS)
    over = _after_last(volts > RECESSIVE_VOLTS, upto=len(volts))
    decay = float(over - started) * step_s if over < len(volts) else float("inf")
    tail = volts[below:] if below < len(volts) else volts[-1:]  # what follows the first time below 0.5 V
    return Fall(
        driven_volts,
        max(decay, LEAST_S),
        max(float(half - started) * step_s, LEAST_S),
        max(0.0, -float(tail.min())),
        float(rebound(tail)),
        edges,
    )


def _first(true: Array) -> int:
    return int(true.argmax()) if true.any() else len(true)


def _after_last(true: Array, upto: int) -> int:
    rows = np.flatnonzero(true[:upto])
    return int(rows[-1]) + 1 if len(rows) else 0


def slow_fall(wave: Waveform, edges: Transitions) -> Fall | None:
    """The fall into the longest quiet time, for where bits cannot be made out: the decay of an unterminated bus."""
    falls = edges.seconds[~edges.rising]
    if not len(edges.seconds):
        return None
    fall, quiet = wave.length_s, 0.0  # a bus that never came down: what there is of its fall ends with the trace
    if len(falls):
        ends = np.append(edges.seconds[edges.rising], wave.length_s)
        gaps = ends[np.searchsorted(ends[:-1], falls)] - falls
        fall, quiet = float(falls[gaps.argmax()]), float(gaps.max())
    volts = wave.difference[: int((fall + quiet) / wave.step_s)]
    driven = float(np.percentile(volts[volts > THRESHOLD_VOLTS], 90))
    before = _after_last(volts > STARTED * driven, upto=int(fall / wave.step_s))
    return shape(volts[max(0, before - 1) :], wave.step_s, driven)
