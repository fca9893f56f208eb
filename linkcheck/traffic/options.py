"""What the user says about a capture, and the tracker's key table as the analysers see it."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

__all__ = ["KeyTable", "Options"]


@dataclass(frozen=True, slots=True)
class Options:
    """A request for analysis; the app and the command line fill the same one.

    Attributes:
        bit_rate: bit/s as the user knows it, None to measure it.
        fast_bit_rate: bit/s of the CAN FD data phase, None where unknown.
        expect: addresses that should talk, with the names to call them by; None where nothing is known.
        system_volts: 12 or 24.
        timeless: the capture has no time stamps; figures that need them stay None.
        from_s, to_s: analyse only this stretch, in seconds from the first frame; None for no limit.
        channels: analyse only these interfaces; None for all.

    """

    bit_rate: int | None = None
    fast_bit_rate: int | None = None
    expect: dict[int, str] | None = None
    system_volts: int | None = None
    timeless: bool = False
    from_s: float | None = None
    to_s: float | None = None
    channels: frozenset[str] | None = None


@dataclass(frozen=True, slots=True, eq=False)
class KeyTable:
    """Identifier and flags of every key so far, in order of appearance (uint32[m], uint8[m])."""

    identifier: npt.NDArray[np.uint32] = field(default_factory=lambda: np.zeros(0, np.uint32))
    flags: npt.NDArray[np.uint8] = field(default_factory=lambda: np.zeros(0, np.uint8))
