"""One simulated day: what decides everything random about a capture, drawn from one seed.

Times are seconds of the simulation unless said otherwise; the recorder may be switched on later than it begins.
"""

from __future__ import annotations

import random
from dataclasses import dataclass

from linkcheck.practice.chance import seeded
from linkcheck.practice.plant import Plant

__all__ = ["Day"]

SECOND = 1_000_000_000


@dataclass(frozen=True, slots=True)
class Day:
    """What decides everything about a simulated capture.

    Attributes:
        scenario: its name. seed: which truck, which day. seconds: how long it is recorded. bit_rate: of can0.
        begin_s: when the recorder is switched on.

    """

    scenario: str
    seed: int
    seconds: float
    bit_rate: int
    begin_s: float = 0.0

    def chance(self, *purpose: object) -> random.Random:
        """Random numbers for one purpose."""
        return seeded(self.scenario, self.seed, *purpose)

    @property
    def begin_ns(self) -> int:
        """When the recorder is switched on."""
        return int(self.begin_s * SECOND)

    @property
    def end_ns(self) -> int:
        """When the recorder is switched off."""
        return int((self.begin_s + self.seconds) * SECOND)

    def plant(self) -> Plant:
        """A truck's machinery on this day: key on, engine cold and off."""
        chance = self.chance("plant")
        return Plant(
            ambient_c=round(chance.uniform(2.0, 18.0), 2),
            barometric_kpa=round(chance.uniform(96.0, 101.5), 1),
            battery_v=round(chance.uniform(12.45, 12.75), 2),
            phase=round(chance.random(), 3),
        )

    def spells(
        self, purpose: str, *, lengths_s: tuple[float, float], pauses_s: tuple[float, float], first_s: float
    ) -> tuple[tuple[int, int], ...]:
        """Irregular times (from, to) in nanoseconds, all over well before the end.

        Args:
            purpose: of the random numbers.
            lengths_s: shortest and longest spell.
            pauses_s: shortest and longest pause between two.
            first_s: earliest, after the recorder is switched on.

        """
        chance = self.chance(purpose)
        spells: list[tuple[int, int]] = []
        at_s = self.begin_s + first_s + chance.uniform(0, pauses_s[0])
        while True:
            length_s = chance.uniform(*lengths_s)
            if (at_s + length_s + 1.0) * SECOND > self.end_ns:
                return tuple(spells)
            spells.append((int(at_s * SECOND), int((at_s + length_s) * SECOND)))
            at_s += length_s + chance.uniform(*pauses_s)
