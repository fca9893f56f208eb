"""What a DC meter shows on this very bus: it averages recessive and dominant levels by their share of time.

Levels are the typical ones of ISO 11898-2 transceivers (recessive 2.5 V on both lines, dominant 3.5 V and 1.5 V; NXP
TJA1051 data sheet rev. 7, table 7, and TI TCAN1044V-Q1) with two terminators. That a meter shows the mean is taught in
technical colleges (common practice, no source).
"""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["ASSUMPTIONS", "MeterVolts", "meter_volts"]

RECESSIVE_V = 2.5
DOMINANT_SWING_V = 1.0
ASSUMPTIONS = "typical drivers (dominant 3.5 V and 1.5 V), two terminators, 2.5 V bias, meter averages"


@dataclass(frozen=True, slots=True)
class MeterVolts:
    """Mean volts to ground of CAN high and CAN low, and between them."""

    can_high_v: float
    can_low_v: float
    difference_v: float
    assumptions: str = ASSUMPTIONS


def meter_volts(dominant_share: float) -> MeterVolts:
    """Expected meter readings for a dominant share of time (0-1)."""
    swing = DOMINANT_SWING_V * dominant_share
    return MeterVolts(round(RECESSIVE_V + swing, 4), round(RECESSIVE_V - swing, 4), round(2 * swing, 4))
