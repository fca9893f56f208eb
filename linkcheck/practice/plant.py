"""The invented truck's machinery: engine, battery and road as plain functions of time.

Every figure is made up, but hangs together the way a real one does: with the engine off and cold all temperatures
agree, boost is at nothing and oil pressure at zero; cranking pulls the battery down; a running engine charges it,
builds oil pressure at once and warms up slowly. No messages here, and no randomness after construction.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

__all__ = ["Plant"]

CRANK_S = 1.2
RUN_UP_S = 0.8
IDLE_RPM = 650.0
CRANK_RPM = 190.0
WARM_C = 84.0
SHIFT_EVERY_S = 9.0
SHIFT_S = 0.8


@dataclass(frozen=True, slots=True, kw_only=True)
class Plant:
    """One truck on one day.

    Attributes:
        start_s: when the engine is cranked, seconds; infinity for never.
        road: it has been running for long and is on the road; `start_s` does not matter then.
        ambient_c, barometric_kpa, battery_v: the day and the battery at rest.
        phase: 0-1, shifts the small variations so that no two trucks are alike.
        stuck_coolant_c: what a lying coolant sensor says; None for an honest one.

    """

    start_s: float = math.inf
    road: bool = False
    ambient_c: float = 11.0
    barometric_kpa: float = 98.5
    battery_v: float = 12.55
    phase: float = 0.0
    stuck_coolant_c: float | None = None

    def wave(self, t: float, period_s: float, size: float) -> float:
        """A small variation around nothing: a triangle of the given period and size."""
        x = (t / period_s + self.phase * 7.3) % 1.0
        return size * (4.0 * abs(x - 0.5) - 1.0)

    def cranking(self, t: float) -> bool:
        """Whether the starter turns."""
        return not self.road and self.start_s <= t < self.start_s + CRANK_S

    def running(self, t: float) -> bool:
        """Whether the engine runs by itself."""
        return self.road or t >= self.start_s + CRANK_S

    def _run_s(self, t: float) -> float:
        return max(0.0, t - self.start_s - CRANK_S)

    def rpm(self, t: float) -> float:
        """Engine speed."""
        if self.road:
            return 1320.0 + self.wave(t, 6.7, 140.0)
        if self.cranking(t):
            return CRANK_RPM + self.wave(t, 0.17, 25.0)
        if not self.running(t):
            return 0.0
        share = min(1.0, self._run_s(t) / RUN_UP_S)
        return CRANK_RPM + share * (IDLE_RPM - CRANK_RPM) + self.wave(t, 1.3, 6.0)

    def speed_kmh(self, t: float) -> float:
        """Road speed."""
        return 62.0 + self.wave(t, 6.7, 6.5) if self.road else 0.0

    def shifting(self, t: float) -> bool:
        """Whether the transmission asks the engine for a torque just now."""
        return self.road and (t + self.phase * SHIFT_EVERY_S) % SHIFT_EVERY_S < SHIFT_S

    def pedal_percent(self, t: float) -> float:
        """Accelerator pedal."""
        return max(0.0, 38.0 + self.wave(t, 4.1, 30.0)) if self.road else 0.0

    def torque_percent(self, t: float) -> float:
        """Torque the engine gives."""
        if not self.running(t):
            return 0.0
        return 45.0 + self.wave(t, 4.1, 30.0) if self.road else 12.0 + self.wave(t, 0.9, 2.0)

    def coolant_c(self, t: float) -> float:
        """Coolant temperature as the sensor says."""
        return self.true_coolant_c(t) if self.stuck_coolant_c is None else self.stuck_coolant_c

    def true_coolant_c(self, t: float) -> float:
        """Coolant temperature."""
        if self.road:
            return WARM_C + self.wave(t, 21.0, 1.2)
        return min(WARM_C, self.ambient_c + 0.6 + 0.11 * self._run_s(t))

    def oil_c(self, t: float) -> float:
        """Engine oil temperature."""
        return 96.0 + self.wave(t, 27.0, 1.0) if self.road else self.ambient_c + 0.9 + 0.05 * self._run_s(t)

    def fuel_c(self, t: float) -> float:
        """Fuel temperature."""
        return 38.0 if self.road else self.ambient_c + 0.02 * self._run_s(t)

    def intake_c(self, t: float) -> float:
        """Intake manifold temperature."""
        return self.ambient_c + 22.0 + self.wave(t, 8.0, 3.0) if self.road else self.ambient_c + 0.4

    def transmission_oil_c(self, t: float) -> float:
        """Transmission oil temperature."""
        return 78.0 + self.wave(t, 31.0, 0.8) if self.road else self.ambient_c + 0.3

    def boost_kpa(self, t: float) -> float:
        """Intake manifold pressure above barometric."""
        if self.road:
            return 62.0 + self.wave(t, 4.1, 50.0)
        return 4.0 if self.running(t) else 0.0

    def oil_kpa(self, t: float) -> float:
        """Engine oil pressure."""
        if self.cranking(t):
            return 80.0 * (t - self.start_s)
        return min(430.0, 210.0 + self.rpm(t) * 0.12) if self.running(t) else 0.0

    def battery_now_v(self, t: float) -> float:
        """Volts at the engine computer's supply."""
        if self.cranking(t):
            return self.battery_v - 2.3 + self.wave(t, 0.3, 0.2)
        if not self.running(t):
            return self.battery_v - 0.15 - 0.004 * min(t, 60.0)  # key on, a few lamps lit
        return 13.95 + self.wave(t, 3.3, 0.08)

    def fuel_rate_l_h(self, t: float) -> float:
        """Fuel the engine burns."""
        return self.torque_percent(t) * self.rpm(t) / 1900.0 if self.running(t) else 0.0
