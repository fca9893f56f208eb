"""The three checksums of CAN, bit by bit over many frames at once.

CRC-15 guards classic frames, CRC-17 and CRC-21 guard CAN FD frames of up to 16 and of more than 16 data bytes.
Polynomials and starting values: ISO 11898-1:2015, 10.4.2.6 (clause from memory). The classic CRC leaves stuff bits out;
the FD ones take them in, which is why `crc` can be told where they follow.

Plain on purpose: this is the yardstick for the tables of the compiled kernel.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

__all__ = ["CRC15", "CRC17", "CRC21", "Polynomial", "crc"]


@dataclass(frozen=True, slots=True)
class Polynomial:
    """A CRC without reflection or final inversion: width in bits, polynomial without its top bit, starting value."""

    width: int
    terms: int
    initial: int


CRC15 = Polynomial(15, 0x4599, 0)
CRC17 = Polynomial(17, 0x1685B, 1 << 16)
CRC21 = Polynomial(21, 0x102899, 1 << 20)


def crc(
    bits: npt.NDArray[np.uint8], polynomial: Polynomial, stuffed: npt.NDArray[np.bool_] | None = None
) -> npt.NDArray[np.int64]:
    """CRC of each column of bits.

    Args:
        bits: uint8[p, n], 0 or 1; row 0 is the first bit sent, each column a frame.
        polynomial: which CRC.
        stuffed: bool[p, n], where a stuff bit (the complement) follows and is to be included.

    Returns:
        int64[n].

    """
    register = np.full(bits.shape[1], polynomial.initial, np.int64)
    for place, row in enumerate(bits):
        register = _step(register, row, polynomial)
        if stuffed is not None and stuffed[place].any():
            register = np.where(stuffed[place], _step(register, 1 - row, polynomial), register)
    return register


def _step(register: npt.NDArray[np.int64], bit: npt.NDArray[np.uint8], polynomial: Polynomial) -> npt.NDArray[np.int64]:
    feedback = (register >> (polynomial.width - 1)) ^ bit
    mask = (1 << polynomial.width) - 1
    stepped: npt.NDArray[np.int64] = ((register << 1) & mask) ^ (feedback * polynomial.terms)
    return stepped
