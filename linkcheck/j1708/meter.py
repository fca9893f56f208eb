"""What a DC meter shows on a J1708 pair: it averages the idle and the driven level by their share of time.

A node pulls its plus line to 5 V and its minus line to ground, both through 4.7 kohm, has a receiver of 12 to 96 kohm
on each (TIA-485: one to an eighth of a unit load), and 47 ohm in series with each (SAE J1708; values from memory, as
used in open hardware). Driving, a node ties plus to ground and minus to its rail. There are no terminators.

    idle     plus = 5 V * R_in / (R_in + 4.7 kohm), minus = 0 V        (the number of nodes does not matter)
    driven   the driving node's 47 ohm against the pull-ups of all others
"""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["ASSUMPTIONS", "J1708Meter", "driven_minus_volts", "driven_plus_volts", "idle_plus_volts", "meter_volts"]

RAIL_V = 5.0
PULL_OHMS = 4_700.0
SERIES_OHMS = 47.0
DRIVER_OHMS = 20.0  # TIA-485 drivers: 1.5 V into 54 ohm at worst, less in practice
RECEIVER_OHMS = (12_000.0, 96_000.0)
ASSUMPTIONS = (
    "nodes with 4.7 kohm to 5 V and to ground, receivers of 12 to 96 kohm, 47 ohm in series, no terminators, "
    "meter averages"
)


@dataclass(frozen=True, slots=True)
class J1708Meter:
    """Expected mean volts to ground of plus (cavity F) and minus (cavity G), each lowest and highest."""

    plus_low_v: float
    plus_high_v: float
    minus_low_v: float
    minus_high_v: float
    assumptions: str = ASSUMPTIONS


def idle_plus_volts(receiver_ohms: float) -> float:
    """Plus line of a silent link whose nodes all have such receivers."""
    return RAIL_V * receiver_ohms / (receiver_ohms + PULL_OHMS)


def driven_plus_volts(receiver_ohms: float, nodes: int) -> float:
    """Plus line while one of `nodes` equal nodes drives it low."""
    return idle_plus_volts(receiver_ohms) * (1.0 - _driver_share(receiver_ohms, nodes))


def driven_minus_volts(receiver_ohms: float, nodes: int) -> float:
    """Minus line while one of `nodes` equal nodes drives it high; idle it is at ground."""
    return RAIL_V * _driver_share(receiver_ohms, nodes)


def _driver_share(receiver_ohms: float, nodes: int) -> float:
    """How far the driving node pulls a line from where the others hold it to where it wants it (0-1)."""
    others = (nodes - 1) / (PULL_OHMS * receiver_ohms / (PULL_OHMS + receiver_ohms) + SERIES_OHMS)
    driver = 1.0 / (SERIES_OHMS + DRIVER_OHMS)
    return driver / (driver + others)


def meter_volts(driven_share: float, nodes: int) -> J1708Meter:
    """Expected readings for a driven share of time (0-1) and a number of nodes, at least two."""
    nodes = max(2, nodes)
    plus = [
        idle_plus_volts(ohms) * (1 - driven_share) + driven_plus_volts(ohms, nodes) * driven_share
        for ohms in RECEIVER_OHMS
    ]
    minus = [driven_minus_volts(ohms, nodes) * driven_share for ohms in RECEIVER_OHMS]
    return J1708Meter(round(min(plus), 3), round(max(plus), 3), round(min(minus), 3), round(max(minus), 3))
