"""Bit stuffing: after five equal bits the sender adds one of the other level.

A stuff bit counts as the first of the next run. Source: ISO 11898-1:2015, 10.5 (clause from memory), for classic frames
as a whole and for FD frames up to the end of the data field. Bits are rows of a matrix whose columns are frames, so
that many frames are stuffed at once.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

__all__ = ["ACK", "TRAILER", "bit_rows", "follows"]

TRAILER = 13  # bits no stuffing reaches: CRC delimiter, ACK, ACK delimiter, 7 end of frame, 3 interframe space
ACK = 1  # dominant bits of the trailer
RUN = 5  # equal bits in a row that call for a stuff bit


def follows(bits: npt.NDArray[np.uint8]) -> npt.NDArray[np.bool_]:
    """Where a stuff bit follows.

    Args:
        bits: uint8[p, n], 0 or 1; row 0 is the first bit sent, each column a frame.

    Returns:
        bool[p, n]: true after a bit that completes a run of five. The stuff bit itself is that bit's complement.

    """
    stuffed = np.zeros(bits.shape, np.bool_)
    level = np.full(bits.shape[1], 2, np.uint8)  # neither 0 nor 1: the idle bus begins no run
    run = np.zeros(bits.shape[1], np.uint8)
    for place, row in enumerate(bits):
        run = np.where(row == level, run + 1, 1).astype(np.uint8)
        full = run == RUN
        stuffed[place] = full
        level = np.where(full, 1 - row, row)
        run[full] = 1
    return stuffed


def bit_rows(value: npt.NDArray[np.integer], width: int) -> npt.NDArray[np.uint8]:
    """The lowest `width` bits of each of n values as uint8[width, n], most significant bit in row 0."""
    places = np.arange(width - 1, -1, -1)[:, None]
    rows: npt.NDArray[np.uint8] = ((value.astype(np.int64)[None, :] >> places) & 1).astype(np.uint8)
    return rows
