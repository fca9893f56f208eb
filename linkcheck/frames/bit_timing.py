"""How a controller cuts a bit into time quanta, and how far its clock may be off.

Two oscillators may differ as long as the resynchronisation jump makes up for ten bit times of drift between stuffed
edges, and as long as an error flag of thirteen bits is still told from an acknowledgement (ISO 11898-1; both conditions
as restated in the CAN specification 2.0 and in the OpenLCB CAN physical layer note).
"""

from __future__ import annotations

from dataclasses import dataclass

from linkcheck.errors import DataError

__all__ = ["J1939_USUAL", "BitTiming"]


@dataclass(frozen=True, slots=True)
class BitTiming:
    """The segments of a bit in time quanta: propagation and phase 1 together, phase 2, resynchronisation jump.

    Raises:
        DataError: segments that no controller takes.

    """

    before_sample: int
    phase_2: int
    jump: int

    def __post_init__(self) -> None:
        if self.before_sample < 1 or not 1 <= self.jump <= self.phase_2:
            raise DataError(
                f"A bit of 1 + {self.before_sample} + {self.phase_2} quanta with a jump of {self.jump} cannot be.",
                todo="The jump must be at least 1 and not longer than phase 2.",
            )

    @property
    def quanta(self) -> int:
        """Quanta of the whole bit, the synchronisation quantum included."""
        return 1 + self.before_sample + self.phase_2

    @property
    def sample_point(self) -> float:
        """Share of the bit before the sample."""
        return (1 + self.before_sample) / self.quanta

    def sample_after_s(self, bit_rate: int) -> float:
        """Seconds from a bit's start to its sample."""
        return self.sample_point / bit_rate

    @property
    def clock_tolerance(self) -> float:
        """How far each clock may be off (a share, 0.01 is one percent)."""
        drift = self.jump / (20 * self.quanta)
        error_flag = self.phase_2 / (2 * (13 * self.quanta - self.phase_2))
        return min(drift, error_flag)


# Sample at 87.5 % and a jump of one quantum: SAE J1939-11 and -15 (from memory).
J1939_USUAL = BitTiming(13, 2, 1)
