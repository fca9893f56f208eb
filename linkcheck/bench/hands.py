"""What a person at the bench does or reads, and what instruments can do instead. A protocol, and one that does nothing.

None or False means that it was not done; the sheet then says "not measured".
"""

from __future__ import annotations

from typing import Protocol

__all__ = ["BENCH_WARNING", "BENCH_WORD", "Hands", "NoHands"]

BENCH_WORD = "bench"  # only this, typed, says that no vehicle is connected
BENCH_WARNING = (
    "This test sends on the bus, at full load and at wrong bit rates. It must never run on a vehicle. "
    f'Is this a bench harness with no vehicle connected? Type "{BENCH_WORD}" to go on.'
)


class Hands(Protocol):
    """Whoever is at the bench."""

    def no_vehicle(self) -> bool:
        """Confirm that no vehicle is connected to the harness."""

    def unplug(self) -> bool:
        """Pull A's cable to the host."""

    def replug(self) -> bool:
        """Put it back, and wait until the host has found it."""

    def short_pair(self) -> bool:
        """Short CAN high to CAN low on the harness, and keep it shorted."""

    def open_pair(self) -> bool:
        """Take the short away."""

    def ohms(self) -> float | None:
        """Ohms between CAN high and low of A alone: unplugged from the harness and without supply."""

    def set_volts(self, volts: float) -> bool:
        """Supply A with so many volts."""

    def amps(self) -> float | None:
        """What A draws now."""


class NoHands:
    """Nobody is there; that no vehicle is connected was said beforehand, or not.

    Args:
        bench_confirmed: the user said in so many words that no vehicle is connected.

    """

    def __init__(self, *, bench_confirmed: bool) -> None:
        self._confirmed = bench_confirmed

    def no_vehicle(self) -> bool:
        """As said beforehand."""
        return self._confirmed

    def unplug(self) -> bool:
        """Not done."""
        return False

    def replug(self) -> bool:
        """Not done."""
        return False

    def short_pair(self) -> bool:
        """Not done."""
        return False

    def open_pair(self) -> bool:
        """Not done."""
        return False

    def ohms(self) -> float | None:
        """Not read."""
        return None

    def set_volts(self, volts: float) -> bool:  # noqa: ARG002  # the protocol's
        """Not done."""
        return False

    def amps(self) -> float | None:
        """Not read."""
        return None
