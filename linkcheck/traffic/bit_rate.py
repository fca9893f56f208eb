"""The bit rate, read off the time stamps.

Frames that wait for a busy bus follow each other without a pause. There the time from one frame's end to the next is
the second frame's length in bits, divided by the rate. So the ratio bits / gap heaps up at the true rate, below it
spread the frames that came after a pause, and above it only stamps that were late. A stretch of many frames can never
have been faster than the bus, which rules out the rates below.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from linkcheck.traffic.window import Window

__all__ = ["ASSUMED_RATE", "RATES", "BitRate", "RateMeter"]

# CiA 601-3 and SAE J1939-11/-14/-15 rates, and the odd ones seen in the trade ("common practice, no source").
RATES = (20_000, 33_333, 50_000, 83_333, 100_000, 125_000, 250_000, 500_000, 666_667, 800_000, 1_000_000)
ASSUMED_RATE = 250_000  # SAE J1939-11 and -15, the commoner of the two
_TOLERANCE = 0.03  # of the rate: late stamps spread further, but the heap stands here
_STRETCH = 512  # frames over which the bus cannot have been beaten, however late single stamps are
_TOO_FAST = 1.05  # a stretch may look a little faster than the bus where stamps come from a host's clock
_LEAST_FRAMES = 30
_SUREST = 0.99
_CELLS = 120  # of the heap: steps of 0.05 %
_NARROW = 0.003  # the middle half of the heap must be narrower than this for its place to mean anything
_WORTH_NAMING = 0.85
_ABOVE = 1.15  # ratios this far above a rate are stamps that came late; a true rate has few of them


@dataclass(frozen=True, slots=True)
class BitRate:
    """The rate used (bit/s), on what basis (given, measured, assumed), and how sure (0-1).

    `measured` is what the time stamps say, whatever was given; None when they cannot say. `clock_off` is how much
    faster than its rate the bus runs by the recorder's clock (0.001 is a thousandth); None where stamps are too coarse.
    """

    value: int
    basis: str
    confidence: float
    measured: int | None = None
    measured_confidence: float = 0.0
    clock_off: float | None = None


class RateMeter:
    """Looks at windows, then names the rate."""

    def __init__(self) -> None:
        self._near = np.zeros(len(RATES), np.int64)  # ratios within the tolerance
        self._beside = np.zeros(len(RATES), np.int64)  # ratios in equal room on both sides
        self._offsets = np.zeros((len(RATES), _CELLS), np.int64)  # ratios near each rate, by how far they are off
        self._above = np.zeros(len(RATES), np.int64)
        self._fastest = 0.0  # bit/s over the fastest stretch

    def examine(self, window: Window) -> None:
        """Weigh one window of consecutive frames."""
        usable = (window.bus_gap_ns > 0) & (window.wire_bits > 0)
        ratio = window.wire_bits[usable] * 1e9 / window.bus_gap_ns[usable]
        place = np.sort(np.log(ratio))
        for i, rate in enumerate(RATES):
            edges = math.log(rate) + _TOLERANCE * np.array([-3, -2, -1, 1, 2, 3])
            low3, low2, low1, high1, high2, high3 = np.searchsorted(place, edges).tolist()
            self._near[i] += high1 - low1
            off = (place[low1:high1] - math.log(rate)) / _TOLERANCE
            self._offsets[i] += np.histogram(off, _CELLS, (-1, 1))[0]
            self._beside[i] += (low2 - low3) + (high3 - high2)
            self._above[i] += len(place) - np.searchsorted(place, math.log(_ABOVE * rate))
        bits = np.cumsum(window.wire_bits, dtype=np.int64)
        if len(bits) > _STRETCH:
            took = window.time_ns[_STRETCH:] - window.time_ns[:-_STRETCH]
            sent = bits[_STRETCH:] - bits[:-_STRETCH]
            good = took > 0
            if good.any():
                self._fastest = max(self._fastest, float((sent[good] * 1e9 / took[good]).max()))

    def measured(self) -> tuple[int, float] | None:
        """The rate the stamps show and how sure that is (0-1); None where no heap stands out.

        The heap is weighed against the ratios in equal room beside it, in standard deviations of their difference.
        """
        best: tuple[int, float] | None = None
        counts = zip(RATES, self._near.tolist(), self._beside.tolist(), self._above.tolist(), strict=True)
        for rate, near, beside, above in counts:
            # Two messages with a fixed pause between them heap up too, but then most ratios lie above.
            if near < _LEAST_FRAMES or near <= beside or above > 1.5 * near or self._fastest > rate * _TOO_FAST:
                continue
            deviations = (near - beside) / math.sqrt(near + beside)
            sure = min(1 - 1 / (1 + (deviations / 3) ** 2), _SUREST)
            if best is None or sure > best[1]:
                best = (rate, sure)
        return best

    def decide(self, given: int | None) -> BitRate:
        """The rate to reckon with."""
        found = self.measured()
        measured, sure = found if found and found[1] >= _WORTH_NAMING else (None, 0.0)
        off = None if measured is None else self._clock_off(measured)
        if given is not None:
            return BitRate(given, "given", 1.0, measured, sure, off)
        if measured is not None:
            return BitRate(measured, "measured", sure, measured, sure, off)
        possible = [rate for rate in RATES if rate >= max(ASSUMED_RATE, self._fastest / _TOO_FAST)]
        return BitRate(possible[0] if possible else RATES[-1], "assumed", 0.0)

    def _clock_off(self, rate: int) -> float | None:
        counts = np.cumsum(self._offsets[RATES.index(rate)])
        middles = (np.arange(_CELLS) + 0.5) * 2 * _TOLERANCE / _CELLS - _TOLERANCE
        low, middle, high = (float(middles[np.searchsorted(counts, counts[-1] * share)]) for share in (0.25, 0.5, 0.75))
        return middle if high - low < _NARROW else None
