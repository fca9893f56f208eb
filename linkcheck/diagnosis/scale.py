"""The axis on which readings are compared: one unit is as far as a sound prediction is commonly off.

A `Scale` says how far a truck may differ from every truck that was sampled (the discrepancy: bias lines, unpowered and
standby modules, joints vary more than tolerances suggest), beside the meter's own uncertainty. Both volts and ohms are
bent so that this is one unit everywhere: volts nearly evenly around zero, ohms by their logarithm. OL is a place of
its own at the end of the ohms axis.

Above some kilohms, ohms depend on everything that is connected (inputs, sleeping modules, moisture); there one unit
grows to a factor, and several such readings of the same lines count as one (`belief`).

The figures are judgement, set by trial on simulated trucks of another make than the sampled ones.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Any, Literal

import numpy as np
import numpy.typing as npt

__all__ = ["HIGH_OHMS", "OVER_OHMS", "Quantity", "Scale", "scale_of"]

Array = npt.NDArray[Any]
Quantity = Literal["dc_volts", "ohms", "category"]

HIGH_OHMS = 4e3  # from here on, ohms say little and repeat each other
OVER_OHMS = 40e6  # a common meter's last full scale; above it the display shows OL
LEAST_OHMS = 1e-3  # and less: nothing at all
BEYOND = 4.0  # units past the last full scale at which an open circuit sits
HIGH_RELATIVE = 0.5  # one unit, relative, far above HIGH_OHMS


@dataclass(frozen=True, slots=True)
class Scale:
    """What one unit is, at every reading.

    Attributes:
        quantity: "dc_volts" or "ohms".
        absolute: one unit near zero, in volts or ohms.
        relative: one unit over the reading, at large readings (ohms: below `HIGH_OHMS`).

    """

    quantity: Quantity
    absolute: float
    relative: float

    def unit(self, values: Array | float) -> Array:
        """One unit at these readings, in volts or ohms."""
        size = np.abs(np.asarray(values, np.float64))
        if self.quantity == "dc_volts":
            return np.asarray(np.hypot(self.absolute, self.relative * size))
        return np.asarray(np.hypot(self.absolute, _relative(size, self.relative) * size))

    def place(self, values: Array | float) -> Array:
        """Readings on the axis; float32 of the same shape. Infinite ohms go `BEYOND` the last full scale."""
        readings = np.asarray(values, np.float32)
        if self.quantity == "dc_volts":
            return np.asarray(
                np.arcsinh(readings * np.float32(self.relative / self.absolute)) / np.float32(self.relative)
            )
        axis = _ohms_axis(self.absolute, self.relative)
        size = np.clip(np.abs(readings), np.float32(LEAST_OHMS), np.float32(OVER_OHMS))
        at = np.log(size / np.float32(LEAST_OHMS)) * np.float32((len(axis) - 1) / np.log(OVER_OHMS / LEAST_OHMS))
        index = np.minimum(at.astype(np.int32), len(axis) - 2)
        known = axis[index] + (at - index.astype(np.float32)) * (axis[index + 1] - axis[index])
        return np.where(np.isinf(readings), np.float32(self.last + BEYOND), np.copysign(known, readings))

    def can_read(self, value: float) -> bool:
        """Whether a meter can show this: a figure, or OL on ohms."""
        return not np.isnan(value) and (self.quantity == "ohms" or not np.isinf(value))

    @property
    def last(self) -> float:
        """Where OL begins."""
        return float(_ohms_axis(self.absolute, self.relative)[-1]) if self.quantity == "ohms" else np.inf


def _relative(ohms: Array, relative: float) -> Array:
    """One unit over the reading: `relative` among low ohms, `HIGH_RELATIVE` among high ones."""
    return relative + (HIGH_RELATIVE - relative) / (1.0 + (HIGH_OHMS / np.maximum(ohms, 1e-3)) ** 2)


@lru_cache(maxsize=16)
def _ohms_axis(absolute: float, relative: float) -> Array:
    """Places of ohms that rise evenly in their logarithm to the last full scale: the units between, counted."""
    ohms = np.geomspace(LEAST_OHMS, OVER_OHMS, 4000)
    unit = np.hypot(absolute, _relative(ohms, relative) * ohms)
    steps = np.diff(ohms) * (1.0 / unit[1:] + 1.0 / unit[:-1]) / 2.0
    return np.concatenate([[0.0], np.cumsum(steps)]).astype(np.float32)


# Quantity and subsystem to scale. Supply volts are stiff; bias lines are not.
_SCALES = {
    ("dc_volts", "supply"): Scale("dc_volts", absolute=0.02, relative=0.01),
    ("dc_volts", "can"): Scale("dc_volts", absolute=0.05, relative=0.03),
    ("dc_volts", "j1708"): Scale("dc_volts", absolute=0.08, relative=0.05),
    ("ohms", "supply"): Scale("ohms", absolute=0.2, relative=0.05),
    ("ohms", "can"): Scale("ohms", absolute=0.3, relative=0.02),
    ("ohms", "j1708"): Scale("ohms", absolute=0.5, relative=0.05),
}


def scale_of(quantity: Quantity, subsystem: str) -> Scale:
    """The scale of a kind of reading; an unknown subsystem has the CAN pair's."""
    return _SCALES.get((quantity, subsystem)) or _SCALES[quantity, "can"]
