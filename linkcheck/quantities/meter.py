"""How far to believe a reading: a hand-held digital multimeter as its data sheet describes it.

`Meter` turns a `Reading` into a standard uncertainty, and says what it would show across a source that its own
input loads. It knows nothing of trucks. The default is a common 6000-count meter: its figures are common practice,
no source; a shop's own meter is another `Meter` with the figures of its data sheet.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from linkcheck.quantities.entry import Quantity, Reading

__all__ = ["Accuracy", "Meter", "Range"]

RECTANGULAR = math.sqrt(3.0)  # half width of a rectangular distribution over its standard deviation (GUM, 4.3.7)


@dataclass(frozen=True, slots=True)
class Range:
    """One range: full scale, and the value of one count (volts or ohms)."""

    limit: float
    step: float


@dataclass(frozen=True, slots=True)
class Accuracy:
    """±(percent of reading + counts), as data sheets state it."""

    percent: float
    counts: float


def _ranges(limits: tuple[float, ...], counts: int) -> tuple[Range, ...]:
    return tuple(Range(limit, limit / counts) for limit in limits)


@dataclass(frozen=True, slots=True)
class Meter:
    """A multimeter. The defaults are common practice, no source.

    Attributes:
        volts, ohms: accuracy on DC volts and on ohms.
        volts_ranges, ohms_ranges: ascending; automatic range takes the first that holds the reading.
        input_ohms: input resistance on DC volts.
        lead_ohms: resistance of both leads together; leads_nulled: whether the meter subtracts it already.
        lead_spread_ohms: half width of what the leads' contact adds or takes, nulled or not.

    """

    volts: Accuracy = Accuracy(percent=0.5, counts=2)
    ohms: Accuracy = Accuracy(percent=0.9, counts=3)
    volts_ranges: tuple[Range, ...] = _ranges((0.6, 6.0, 60.0, 600.0), 6000)
    ohms_ranges: tuple[Range, ...] = _ranges((600.0, 6e3, 60e3, 600e3, 6e6, 40e6), 6000)
    input_ohms: float = 10e6
    lead_ohms: float = 0.3
    leads_nulled: bool = False
    lead_spread_ohms: float = 0.15

    @property
    def over_limit_ohms(self) -> float:
        """The resistance above which it shows OL."""
        return self.ohms_ranges[-1].limit

    def step(self, value: float, quantity: Quantity) -> float:
        """Value of one count on the range that automatic range picks, in volts or ohms."""
        ranges = self.volts_ranges if quantity == "dc_volts" else self.ohms_ranges
        return next((each.step for each in ranges if abs(value) <= each.limit), ranges[-1].step)

    def limit_of_error(self, reading: Reading) -> float:
        """Half width of the band the accuracy statement allows, in volts or ohms; infinite for OL.

        A last digit finer than the range's count is taken as the count (it is another meter); digits left off when
        typing widen the band by half of the last one given.
        """
        if reading.over_range:
            return math.inf
        accuracy = self.volts if reading.quantity == "dc_volts" else self.ohms
        step = self.step(reading.value, reading.quantity)
        band = accuracy.percent / 100 * abs(reading.value) + accuracy.counts * min(step, reading.resolution)
        return band + (reading.resolution / 2 if reading.resolution > step else 0.0)

    def uncertainty(self, reading: Reading) -> float:
        """Standard uncertainty in volts or ohms: the band as a rectangular distribution, leads included on ohms."""
        leads = self.lead_spread_ohms if reading.quantity == "ohms" else 0.0
        return math.hypot(self.limit_of_error(reading), leads) / RECTANGULAR

    def corrected(self, reading: Reading) -> float:
        """The reading's value, the leads taken off on ohms unless the meter has nulled them."""
        if reading.quantity == "dc_volts" or self.leads_nulled:
            return reading.value
        return reading.value - self.lead_ohms

    def loaded(self, volts: float, source_ohms: float) -> float:
        """What it shows across a source of this open-circuit voltage and inner resistance."""
        return volts * self.input_ohms / (self.input_ohms + source_ohms)
