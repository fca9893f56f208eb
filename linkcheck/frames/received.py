"""Frames out of bits as they were sampled on the wire: stuff bits taken off, fields told apart, CRC and form checked.

The counterpart of `bits`, which counts what a known frame must look like; here the bits come first, from a scope's
trace for instance, and may be wrong. Layout of classic frames: ISO 11898-1:2015, 10.4.2 (clause from memory). A CAN FD
frame is recognised by its FDF bit and not read any further.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from linkcheck.frames.crc import CRC15, crc

__all__ = ["Received", "receive"]

RUN = 5
END_BITS = 10  # CRC delimiter, ACK slot, ACK delimiter, end of frame


@dataclass(frozen=True, slots=True)
class Received:
    """One frame, or what became of it.

    Attributes:
        identifier, extended, remote, length, data: as far as they were read.
        crc_sent, crc_reckoned: the two checksums; equal in a good frame; -1 where the frame did not get that far.
        acknowledged: the ACK slot is dominant.
        problem: what is wrong, as a sentence; empty for a good frame.
        own_bits: indices of the bits that its sender alone drives: behind arbitration, to the end of the CRC.
        ack_bit: index of the ACK slot, -1 where the frame did not get that far.
        used_bits: how many of the bits belong to it.

    """

    identifier: int = 0
    extended: bool = False
    remote: bool = False
    length: int = 0
    data: bytes = b""
    crc_sent: int = -1
    crc_reckoned: int = -1
    acknowledged: bool = False
    problem: str = ""
    own_bits: range = range(0)
    ack_bit: int = -1
    used_bits: int = 0

    @property
    def good(self) -> bool:
        """Nothing is wrong with it."""
        return not self.problem


class _Wrong(Exception):  # noqa: N818  a turn of the reading, not an error of the program
    """The bits cannot go on as a frame."""


class _Bits:
    """Bits with stuffing taken off as they are read."""

    def __init__(self, bits: Sequence[int]) -> None:
        self.raw = bits
        self.place = 0
        self.read: list[int] = []
        self._level, self._run = 2, 0

    def take(self, count: int) -> int:
        """The next bits as a number, most significant first."""
        value = 0
        for _ in range(count):
            value = value << 1 | self._next()
        return value

    def _next(self) -> int:
        bit = self._one()
        self._count(bit)
        if self._run == RUN:
            stuffed = self._one()
            if stuffed == bit:
                flag = "an error flag" if bit == 0 else "a passive error flag or the end of sending"
                raise _Wrong(
                    f"six {'dominant' if bit == 0 else 'recessive'} bits in a row at bit {self.place}: {flag}."
                )
            self._count(stuffed)
        self.read.append(bit)
        return bit

    def _count(self, bit: int) -> None:
        self._run = self._run + 1 if bit == self._level else 1
        self._level = bit

    def _one(self) -> int:
        if self.place >= len(self.raw):
            raise _Wrong("the trace ends inside the frame.")
        self.place += 1
        return int(self.raw[self.place - 1])


def receive(bits: Sequence[int]) -> Received:
    """Read one frame from its start-of-frame bit on; never raises for bad bits."""
    source = _Bits(bits)
    found: dict[str, object] = {}
    try:
        _head(source, found)
        _body(source, found)
        _tail(source, found)
    except _Wrong as wrong:
        found["problem"] = str(wrong)
    return Received(**found, used_bits=source.place)  # type: ignore[arg-type]  # fields gathered on the way


def _head(source: _Bits, found: dict[str, object]) -> None:
    if source.take(1):
        raise _Wrong("no start of frame.")
    base = source.take(11)
    found["identifier"] = base
    remote, extended = source.take(1), source.take(1)
    found["extended"] = bool(extended)
    if extended:
        found["identifier"] = base << 18 | source.take(18)
        remote = source.take(1)
        fd = source.take(1)
        own = source.place
        if not fd:
            source.take(1)
    else:
        own = source.place - 1
        fd = source.take(1)
    found["remote"] = bool(remote)
    found["own_bits"] = range(own, source.place)
    if fd:
        raise _Wrong("a CAN FD frame, or a wrong bit where FD frames are told: only classic frames are read here.")


def _body(source: _Bits, found: dict[str, object]) -> None:
    own = found["own_bits"]
    length = source.take(4)
    found["length"] = length
    sent = 0 if found["remote"] else min(length, 8)
    found["data"] = bytes(source.take(8) for _ in range(sent))
    covered = np.array(source.read, np.uint8)[:, None]
    found["crc_reckoned"] = int(crc(covered, CRC15)[0])
    found["crc_sent"] = source.take(15)
    found["own_bits"] = range(own.start, source.place)  # type: ignore[attr-defined]


def _tail(source: _Bits, found: dict[str, object]) -> None:
    end = [int(bit) for bit in source.raw[source.place : source.place + END_BITS]]
    found["ack_bit"] = source.place + 1
    if len(end) < END_BITS:
        source.place = len(source.raw)
        raise _Wrong("the trace ends inside the frame.")
    source.place += END_BITS
    found["acknowledged"] = end[1] == 0
    if found["crc_sent"] != found["crc_reckoned"]:
        raise _Wrong(f"CRC {found['crc_sent']:04X} was sent, {found['crc_reckoned']:04X} fits the bits.")
    if not found["acknowledged"]:
        raise _Wrong("nobody acknowledged it.")
    if end[0] == 0 or 0 in end[2:9]:  # a dominant last bit of the end of frame is an overload, not an error
        raise _Wrong("a dominant bit in its end: an error flag, or an edge that falls too slowly.")
