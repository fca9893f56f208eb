"""CAN FD frames on the wire: length, dominant bits, and how many of them run at the second bit rate.

Layout of ISO 11898-1:2015, 10.4.2 (FD base and FD extended format; clauses here are from memory), from start of frame
to end of frame plus the 3-bit interframe space. Up to the end of the data field stuff bits come as in classic frames;
behind it sit fixed ones: one before the stuff count, one before the CRC and one after every fourth CRC bit, each the
complement of the bit before it. A run of five that ends with the last data bit is broken by the first fixed stuff bit,
not by one more.

The data phase is counted from the ESI bit through the CRC delimiter. The switch itself happens at the sample points of
BRS and CRC delimiter; with equal sample points that is the same time on the wire as one nominal and one fast bit.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from linkcheck.frames.crc import CRC17, CRC21, crc
from linkcheck.frames.stuffing import ACK, TRAILER, bit_rows, follows

__all__ = ["LENGTHS", "FdBits", "count_fd", "dlc_of"]

# Data bytes for each data length code (ISO 11898-1:2015).
LENGTHS = (0, 1, 2, 3, 4, 5, 6, 7, 8, 12, 16, 20, 24, 32, 48, 64)

LONGEST_CRC17 = 16  # data bytes; longer frames carry CRC-21


@dataclass(frozen=True, slots=True, eq=False)
class FdBits:
    """Bits of n frames: `wire` in all, `dominant` of them, `fast` of them in the data phase (uint16[n] each)."""

    wire: npt.NDArray[np.uint16]
    dominant: npt.NDArray[np.uint16]
    fast: npt.NDArray[np.uint16]


def dlc_of(length: int) -> int:
    """The smallest data length code that carries `length` bytes (0-64; more is taken as 64)."""
    return next((dlc for dlc, room in enumerate(LENGTHS) if room >= length), len(LENGTHS) - 1)


def count_fd(
    identifier: npt.NDArray[np.uint32],
    brs: npt.NDArray[np.bool_],
    esi: npt.NDArray[np.bool_],
    payload: npt.NDArray[np.uint8],
    *,
    extended: bool,
    dlc: int,
) -> FdBits:
    """Count FD frames of one format and one length.

    Args:
        identifier: uint32[n].
        brs: bool[n], data phase at the second bit rate.
        esi: bool[n], sender is error-passive.
        payload: uint8[n, 64], zero beyond the length.
        extended: 29-bit identifiers.
        dlc: data length code of all of them.

    """
    n, size = len(identifier), LENGTHS[dlc]
    zero, one = np.zeros((1, n), np.uint8), np.ones((1, n), np.uint8)
    base = bit_rows(identifier >> 18 if extended else identifier, 11)
    # extended: SRR, IDE, 18 bits, RRS; base: RRS, IDE. Then FDF, res, and what both share.
    middle = [one, one, bit_rows(identifier, 18), zero] if extended else [zero, zero]
    control = [one, zero, brs[None, :].astype(np.uint8), esi[None, :].astype(np.uint8), bit_rows(np.full(n, dlc), 4)]
    data = np.unpackbits(payload[:, :size], axis=1).T
    bits = np.concatenate([zero, base, *middle, *control, data])
    stuffed = follows(bits)
    stuffed[-1] = False  # the first fixed stuff bit does that work

    count = stuffed.sum(axis=0) & 7
    gray = bit_rows(count ^ (count >> 1), 3)
    stuff_count = np.concatenate([gray, gray.sum(axis=0, keepdims=True, dtype=np.uint8) & 1])
    polynomial = CRC17 if size <= LONGEST_CRC17 else CRC21
    covered = np.concatenate([bits, stuff_count])
    sequence = bit_rows(
        crc(covered, polynomial, np.concatenate([stuffed, np.zeros((4, n), np.bool_)])), polynomial.width
    )
    tail = np.concatenate([stuff_count, sequence])
    before = np.concatenate([bits[-1:], tail])[: len(tail) : 4]  # the bits a fixed stuff bit follows

    wire = len(bits) + stuffed.sum(axis=0) + len(tail) + len(before) + TRAILER
    dominant = (
        (bits == 0).sum(axis=0)
        + (stuffed & (bits == 1)).sum(axis=0)
        + (tail == 0).sum(axis=0)
        + (before == 1).sum(axis=0)
        + ACK
    )
    at_esi = len(bits) - len(data) - 5
    fast = len(bits) - at_esi + stuffed[at_esi:].sum(axis=0) + len(tail) + len(before) + 1
    return FdBits(wire.astype(np.uint16), dominant.astype(np.uint16), np.where(brs, fast, 0).astype(np.uint16))
