"""One classic data frame as the row of bits a sender puts on the wire, each bit with its place in the frame.

The simulated bus needs single bits: where two senders begin to differ, where an error strikes, how many dominant bits
came before it. `linkcheck.frames` only counts, many frames at once; the tests hold the two to the same lengths.

Layout, CRC and stuffing: CAN Specification 2.0 (September 1991), part B, sections 3 and 6; the same in ISO 11898-1.
Place codes: Linux include/uapi/linux/can/error.h, CAN_ERR_PROT_LOC_*.
"""

from __future__ import annotations

import enum
from dataclasses import dataclass
from functools import lru_cache

__all__ = ["INTERMISSION", "Frame", "Place", "Wire", "on_the_wire"]

INTERMISSION = 3  # recessive bits between frames
CRC_TERMS = 0x4599
RUN = 5  # equal bits that call for a stuff bit


class Place(enum.IntEnum):
    """Part of a frame, by its SocketCAN code."""

    START = 0x03
    ID_28_21 = 0x02
    ID_20_18 = 0x06
    SUBSTITUTE_RTR = 0x04  # the RTR bit itself in an 11-bit frame
    IDE = 0x05
    ID_17_13 = 0x07
    ID_12_05 = 0x0F
    ID_04_00 = 0x0E
    RTR = 0x0C
    RESERVED_1 = 0x0D
    RESERVED_0 = 0x09
    DLC = 0x0B
    DATA = 0x0A
    CRC = 0x08
    CRC_DELIMITER = 0x18
    ACK_SLOT = 0x19
    ACK_DELIMITER = 0x1B
    END = 0x1A


@dataclass(frozen=True, slots=True)
class Frame:
    """A classic data frame: identifier of 11 or 29 bits, up to 8 bytes."""

    identifier: int
    data: bytes = b""
    extended: bool = True

    @property
    def rank(self) -> str:
        """The arbitration field as sent, first bit first; of several frames the smallest rank wins the bus."""
        if self.extended:
            return f"{self.identifier >> 18:011b}11{self.identifier & 0x3FFFF:018b}0"
        return f"{self.identifier:011b}00"


@dataclass(frozen=True, slots=True)
class Wire:
    """A frame's bits from start of frame to end of frame.

    Attributes:
        levels: "0" dominant, "1" recessive, stuff bits included, the ACK slot as the sender leaves it (recessive).
        places: part of the frame each bit belongs to; a stuff bit belongs to the bit before it.

    """

    frame: Frame
    levels: str
    places: tuple[Place, ...]

    @property
    def length(self) -> int:
        """Bits the frame occupies, interframe space included."""
        return len(self.levels) + INTERMISSION

    def first(self, place: Place) -> int:
        """Index of the first bit of a part."""
        return self.places.index(place)

    def run_before(self, end: int, level: str) -> int:
        """How many bits of one level stand in a row at and before index `end`."""
        upto = self.levels[: end + 1]
        return len(upto) - len(upto.rstrip(level))


@lru_cache(maxsize=8192)
def on_the_wire(frame: Frame) -> Wire:
    """Lay a frame out bit by bit."""
    fields = [*_head(frame), (Place.DATA, "".join(f"{byte:08b}" for byte in frame.data))]
    bits = "".join(part for _, part in fields)
    fields.append((Place.CRC, f"{_crc15(bits):015b}"))
    levels: list[str] = []
    places: list[Place] = []
    run = 0
    for place, part in fields:
        for bit in part:
            run = run + 1 if levels and levels[-1] == bit else 1
            levels.append(bit)
            places.append(place)
            if run == RUN:
                levels.append("1" if bit == "0" else "0")
                places.append(place)
                run = 1
    trailer = (Place.CRC_DELIMITER, Place.ACK_SLOT, Place.ACK_DELIMITER, *(Place.END,) * 7)
    return Wire(frame, "".join(levels) + "1" * len(trailer), (*places, *trailer))


def _head(frame: Frame) -> list[tuple[Place, str]]:
    ident = frame.identifier
    dlc = (Place.DLC, f"{len(frame.data):04b}")
    if not frame.extended:
        word = f"{ident:011b}"
        flags = [(Place.SUBSTITUTE_RTR, "0"), (Place.IDE, "0"), (Place.RESERVED_0, "0")]
        return [(Place.START, "0"), (Place.ID_28_21, word[:8]), (Place.ID_20_18, word[8:]), *flags, dlc]
    word = f"{ident:029b}"
    return [
        (Place.START, "0"),
        (Place.ID_28_21, word[:8]),
        (Place.ID_20_18, word[8:11]),
        (Place.SUBSTITUTE_RTR, "1"),
        (Place.IDE, "1"),
        (Place.ID_17_13, word[11:16]),
        (Place.ID_12_05, word[16:24]),
        (Place.ID_04_00, word[24:]),
        (Place.RTR, "0"),
        (Place.RESERVED_1, "0"),
        (Place.RESERVED_0, "0"),
        dlc,
    ]


def _crc15(bits: str) -> int:
    register = 0
    for bit in bits:
        feedback = register >> 14 ^ (bit == "1")
        register = (register << 1 & 0x7FFF) ^ (CRC_TERMS if feedback else 0)
    return register
