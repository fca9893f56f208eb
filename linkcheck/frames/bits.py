"""Exact length and dominant bits of every frame of a batch, in plain numpy.

Counted from start of frame to end of frame plus the 3-bit interframe space; stuff bits through the CRC, the one after
its last bit included; dominant bits include the acknowledged ACK slot. Remote frames carry no data bits, their DLC
field holds the length asked for. Error frames count 0. Layout of classic frames: ISO 11898-1:2015, 10.4.2
(clause from memory).

This is the twin of the compiled kernel: its fallback, and its oracle in the tests. CAN FD frames are counted in `fd`.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from linkcheck.frames.batch import BRS, ERROR, ESI, EXTENDED, FD, REMOTE, WIDE, FrameBatch
from linkcheck.frames.crc import CRC15, crc
from linkcheck.frames.fd import count_fd, dlc_of
from linkcheck.frames.stuffing import ACK, TRAILER, bit_rows, follows

__all__ = ["Bits", "count_bits", "crc15"]

LONGEST = 8  # data bytes of a classic frame

_DLC_OF = np.array([dlc_of(length) for length in range(256)], np.int64)


@dataclass(frozen=True, slots=True, eq=False)
class Bits:
    """Bits of the n frames of a batch (uint16[n] each).

    Attributes:
        wire: all bits. dominant: the dominant ones.
        fast: bits of the data phase of FD frames with BRS; None when there is no such frame.

    """

    wire: npt.NDArray[np.uint16]
    dominant: npt.NDArray[np.uint16]
    fast: npt.NDArray[np.uint16] | None


def count_bits(batch: FrameBatch) -> Bits:
    """Count the bits of every frame of a batch."""
    n = len(batch)
    wire, dominant, fast = np.zeros(n, np.uint16), np.zeros(n, np.uint16), np.zeros(n, np.uint16)
    is_fd = (batch.flags & FD) != 0
    dlc = np.where(is_fd, _DLC_OF[batch.length], np.minimum(batch.length, LONGEST))
    layout = (batch.flags & (EXTENDED | REMOTE | FD)) * 16 + dlc
    layout[(batch.flags & ERROR) != 0] = -1
    for value in np.unique(layout[layout >= 0]):
        rows = np.flatnonzero(layout == value)
        flags, code = divmod(int(value), 16)
        if flags & FD:
            counted = count_fd(
                batch.identifier[rows],
                (batch.flags[rows] & BRS) != 0,
                (batch.flags[rows] & ESI) != 0,
                _payload(batch, rows),
                extended=bool(flags & EXTENDED),
                dlc=code,
            )
            wire[rows], dominant[rows], fast[rows] = counted.wire, counted.dominant, counted.fast
        else:
            wire[rows], dominant[rows] = _count_classic(batch.identifier[rows], batch.data[rows], flags, code)
    return Bits(wire, dominant, fast if fast.any() else None)


def crc15(identifier: int, flags: int, length: int, payload: bytes = b"") -> int:
    """CRC-15 of one classic frame, as sent behind its data."""
    data = np.frombuffer(payload.ljust(LONGEST, b"\0"), np.uint8)[None, :]
    return int(crc(_covered(np.array([identifier], np.uint32), data, flags, length), CRC15)[0])


def _covered(
    identifier: npt.NDArray[np.uint32], data: npt.NDArray[np.uint8], flags: int, length: int
) -> npt.NDArray[np.uint8]:
    """Start of frame to the last data bit of classic frames of one layout: uint8[p, n]."""
    n = len(identifier)
    zero, one = np.zeros((1, n), np.uint8), np.ones((1, n), np.uint8)
    rtr = one if flags & REMOTE else zero
    if flags & EXTENDED:  # base id, SRR, IDE, id extension, RTR, r1, r0
        head = [zero, bit_rows(identifier >> 18, 11), one, one, bit_rows(identifier, 18), rtr, zero, zero]
    else:  # id, RTR, IDE, r0
        head = [zero, bit_rows(identifier, 11), rtr, zero, zero]
    sent = 0 if flags & REMOTE else length
    return np.concatenate([*head, bit_rows(np.full(n, length), 4), np.unpackbits(data[:, :sent], axis=1).T])


def _count_classic(
    identifier: npt.NDArray[np.uint32], data: npt.NDArray[np.uint8], flags: int, length: int
) -> tuple[npt.NDArray[np.integer], npt.NDArray[np.integer]]:
    covered = _covered(identifier, data, flags, length)
    bits = np.concatenate([covered, bit_rows(crc(covered, CRC15), CRC15.width)])
    stuffed = follows(bits)
    wire = len(bits) + stuffed.sum(axis=0) + TRAILER
    dominant = (bits == 0).sum(axis=0) + (stuffed & (bits == 1)).sum(axis=0) + ACK
    return wire, dominant


def _payload(batch: FrameBatch, rows: npt.NDArray[np.intp]) -> npt.NDArray[np.uint8]:
    """Payloads of FD frames, uint8[n, 64]; rows without an entry in `wide_rows` have at most 8 bytes."""
    payload = np.zeros((len(rows), WIDE), np.uint8)
    payload[:, :LONGEST] = batch.data[rows]
    _, here, there = np.intersect1d(rows, batch.wide_rows, assume_unique=True, return_indices=True)
    payload[here] = batch.wide_data[there]
    return payload
