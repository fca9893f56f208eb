"""What drives a pair of lines, put on a solved linear network: CAN drivers with diodes and limits, J1708 drivers.

A CAN driver is not linear: on each side a diode drop, an on-resistance and a current limit (figures in
`interface_parameters`). Two such sides on a linear network have exactly one solution, found here in closed form, so
there is no iteration that could fail to converge.

With iL the low side's current and iH the high side's, each side alone is i = clip(open-circuit volts / resistance,
0, limit). Put the low side's law into the high side's: what remains falls strictly with iH, so clipping its root to
0...limit is the solution, and iL follows.

A `Drive` keeps each line's current and its slope (small-signal conductance) there, which is what a meter of 10 Mohm
needs to load it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

__all__ = ["CanDriver", "Drive", "Lines", "drive_can", "drive_j1708"]

Array = npt.NDArray[Any]


@dataclass(frozen=True, slots=True, eq=False)
class Lines:
    """A pair of lines as the linear network shows them; float64[..., B] each.

    Attributes:
        high_volts, low_volts: with nobody driving.
        high_ohms, low_ohms: of each line to ground.
        mutual_ohms: volts on one for an ampere put into the other.

    """

    high_volts: Array
    low_volts: Array
    high_ohms: Array
    low_ohms: Array
    mutual_ohms: Array


@dataclass(frozen=True, slots=True, eq=False)
class CanDriver:
    """Both sides of a driver; float64[..., B] each. Volts are above the reference, the interface's ground included."""

    rail_volts: Array
    ground_volts: Array
    high_drop_volts: Array
    low_drop_volts: Array
    high_on_ohms: Array
    low_on_ohms: Array
    high_limit_amps: Array
    low_limit_amps: Array


@dataclass(frozen=True, slots=True, eq=False)
class Drive:
    """What drives a pair: amperes put into each line (out of the low one: negative), and their slopes in siemens."""

    high_amps: Array
    low_amps: Array
    high_siemens: Array
    low_siemens: Array


def drive_can(lines: Lines, driver: CanDriver) -> Drive:
    """A CAN driver holding its lines dominant."""
    high_push = driver.rail_volts - driver.high_drop_volts - lines.high_volts
    low_pull = lines.low_volts - driver.ground_volts - driver.low_drop_volts
    high_loop = driver.high_on_ohms + lines.high_ohms
    low_loop = driver.low_on_ohms + lines.low_ohms
    mutual = lines.mutual_ohms

    # The high side as if it had no diode and no limit, the low side lawful; then the law of the high side.
    low = np.clip(
        (low_pull + mutual * high_push / high_loop) / (low_loop - mutual**2 / high_loop), 0.0, driver.low_limit_amps
    )
    high = np.clip((high_push + mutual * low) / high_loop, 0.0, driver.high_limit_amps)
    low = np.clip((low_pull + mutual * high) / low_loop, 0.0, driver.low_limit_amps)
    return Drive(
        high,
        -low,
        np.where((high > 0.0) & (high < driver.high_limit_amps), 1.0 / driver.high_on_ohms, 0.0),
        np.where((low > 0.0) & (low < driver.low_limit_amps), 1.0 / driver.low_on_ohms, 0.0),
    )


def drive_j1708(lines: Lines, added_siemens: tuple[Array, Array], added_amps: tuple[Array, Array]) -> Drive:
    """A J1708 driver: what it adds to each line's conductance and source while it drives. Linear: two equations.

    Args:
        lines: plus as the high one, minus as the low one.
        added_siemens: conductance when driving less that when idle, for plus and minus; [1, B] each.
        added_amps: the same of the source beside it.

    """
    g_plus, g_minus = added_siemens
    push_plus = added_amps[0] - g_plus * lines.high_volts
    push_minus = added_amps[1] - g_minus * lines.low_volts
    plus_loop = 1.0 + g_plus * lines.high_ohms
    minus_loop = 1.0 + g_minus * lines.low_ohms
    cross_plus, cross_minus = g_plus * lines.mutual_ohms, g_minus * lines.mutual_ohms
    determinant = plus_loop * minus_loop - cross_plus * cross_minus
    return Drive(
        (push_plus * minus_loop - cross_plus * push_minus) / determinant,
        (push_minus * plus_loop - cross_minus * push_plus) / determinant,
        g_plus,
        g_minus,
    )
