"""What a meter's display shows of a figure: its gain error, its contact at the tips, its range, its last digit, OL.

`quantities.Meter` says how far to believe a display; here is the other way round, for a simulated truck: the display
that a figure of the circuit makes. The same truck, points, state and repetition always show the same.
"""

from __future__ import annotations

import math
import zlib
from dataclasses import dataclass

import numpy as np

from linkcheck.quantities import Meter
from linkcheck.quantities.entry import Quantity

__all__ = ["Display", "MeterFace"]

SHARE_OF_LIMIT = 0.7  # how far, at most, this meter's gain uses up its data sheet's percentage
CONTACT_OHMS = 0.04  # spread of what two probe tips add when the leads were nulled; common practice, no source
PREFIXES = ((1e6, "M"), (1e3, "k"), (1.0, ""), (1e-3, "m"))


@dataclass(frozen=True, slots=True)
class Display:
    """A reading on the display.

    Attributes:
        typed: as one types it in: "12.41", "4.702k", "345.2m", "OL".
        shown: with its unit: "12.41 V", "4.702 kohm", "345.2 mV", "OL".

    """

    typed: str
    shown: str


class MeterFace:
    """One meter in a learner's hand.

    Args:
        seed: which meter, and its noise.
        meter: ranges, counts and accuracy.

    """

    def __init__(self, seed: int, meter: Meter | None = None) -> None:
        self.meter = meter or Meter(leads_nulled=True)
        self._seed = seed
        gains = np.random.default_rng([seed, 31]).uniform(-SHARE_OF_LIMIT, SHARE_OF_LIMIT, 2)
        self._volts_gain = 1.0 + gains[0] * self.meter.volts.percent / 100.0
        self._ohms_gain = 1.0 + gains[1] * self.meter.ohms.percent / 100.0

    def volts(self, figure: float, what: str) -> Display:
        """The display on DC volts; `what` names the reading, so that its noise is its own."""
        return self._display(figure * self._volts_gain, "dc_volts", what)

    def ohms(self, figure: float, what: str) -> Display:
        """The display on ohms; infinite, or beyond the last range, is OL."""
        added = abs(self._noise(what).normal(0.0, CONTACT_OHMS))
        figure = (figure + added) * self._ohms_gain
        if figure > self.meter.over_limit_ohms:
            return Display("OL", "OL")
        return self._display(figure, "ohms", what)

    def _noise(self, what: str) -> np.random.Generator:
        return np.random.default_rng([self._seed, 37, zlib.crc32(what.encode())])

    def _display(self, figure: float, quantity: Quantity, what: str) -> Display:
        ranges = self.meter.volts_ranges if quantity == "dc_volts" else self.meter.ohms_ranges
        chosen = next((each for each in ranges if abs(figure) <= each.limit), ranges[-1])
        power = math.ceil(math.log10(chosen.step) - 1e-9)  # a display counts in powers of ten
        counts = round(figure / 10.0**power) + int(self._noise(what + " digit").integers(-1, 2))
        least = 1e-3 if quantity == "dc_volts" else 1.0  # no milliohms on a hand-held meter
        factor, prefix = next((f, p) for f, p in PREFIXES if f == least or chosen.limit > f)
        digits = max(0, round(math.log10(factor)) - power)
        text = f"{counts * 10.0**power / factor:.{digits}f}"
        text = text.removeprefix("-") if float(text) == 0.0 else text
        return Display(f"{text}{prefix}", f"{text} {prefix}{'V' if quantity == 'dc_volts' else 'ohm'}")
