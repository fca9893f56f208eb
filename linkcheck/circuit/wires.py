"""Resistance of copper wire and of blade fuses.

Copper by American wire gauge: National Bureau of Standards Handbook 100, "Copper Wire Tables" (1966), IACS copper of
1.7241 microhm cm at 20 degC and 0.00393 per kelvin. Fuses: cold resistance of ISO 8820-3 type C blade fuses, typical
figures from memory; the 10 A one agrees with the published "1 mV is 130 mA" (7.69 mohm) of a technical college.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

__all__ = ["COLD_FUSE_OHMS", "awg_area_mm2", "copper_factor", "wire_ohms_per_metre"]

Array = npt.NDArray[np.float64]

COPPER_OHM_MM2_PER_M = 0.017241  # at 20 degC
COPPER_PER_KELVIN = 0.00393

# Rating in amperes to ohms.
COLD_FUSE_OHMS = {5.0: 0.01785, 7.5: 0.01091, 10.0: 0.00770, 15.0: 0.00480, 20.0: 0.00338, 30.0: 0.00197}


def awg_area_mm2(gauge: Array | float) -> Array:
    """Copper area of a gauge number (18 for AWG 18)."""
    diameter_mm = 0.127 * 92.0 ** ((36.0 - np.asarray(gauge, np.float64)) / 39.0)
    return np.asarray(np.pi / 4.0 * diameter_mm**2, np.float64)


def copper_factor(temperature_c: Array | float) -> Array:
    """Resistance at a temperature over that at 20 degC."""
    return np.asarray(1.0 + COPPER_PER_KELVIN * (np.asarray(temperature_c, np.float64) - 20.0), np.float64)


def wire_ohms_per_metre(gauge: Array | float, temperature_c: Array | float = 20.0) -> Array:
    """Resistance of a solid wire; a stranded one has some 4 % more."""
    return np.asarray(COPPER_OHM_MM2_PER_M / awg_area_mm2(gauge) * copper_factor(temperature_c), np.float64)
