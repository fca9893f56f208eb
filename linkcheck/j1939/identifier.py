"""The 29-bit identifier of SAE J1939: priority, parameter group, who sends and to whom.

One value at a time (`split`, `join`) and whole columns (`pgns`, `sources`, `destinations`). No payloads here.

Layout, most significant bit first: priority 3, extended data page 1, data page 1, PDU format 8, PDU specific 8,
source address 8. A format below 240 (PDU1) carries the destination in its PDU specific byte, which then is no part of
the PGN; from 240 up (PDU2) that byte extends the group and the frame is for everyone.
Source: SAE J1939-21; the same rule in Linux kernel Documentation/networking/j1939.rst, "PGN".
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from linkcheck.errors import DataError

__all__ = ["GLOBAL", "NULL", "Identifier", "destinations", "is_broadcast_format", "join", "pgns", "sources", "split"]

GLOBAL = 255  # destination: everyone
NULL = 254  # source of a device that has no address

_PDU2_FORMAT = 240  # first PDU format whose frames are for everyone


@dataclass(frozen=True, slots=True)
class Identifier:
    """A 29-bit identifier taken apart.

    Attributes:
        priority: 0 (wins) to 7. pgn: 18 bits, low byte zero in PDU1. source, destination: 0-255.

    """

    priority: int
    pgn: int
    source: int
    destination: int

    @property
    def data_page(self) -> int:
        """Bit 16 of the PGN."""
        return self.pgn >> 16 & 1

    @property
    def extended_data_page(self) -> int:
        """Bit 17 of the PGN. With the data page also set the frame belongs to ISO 15765-3 and not to J1939."""
        return self.pgn >> 17 & 1


def is_broadcast_format(pgn: int) -> bool:
    """Whether frames of this group are always for everyone (PDU2)."""
    return pgn >> 8 & 0xFF >= _PDU2_FORMAT


def split(identifier: int) -> Identifier:
    """Take an identifier apart.

    Raises:
        DataError: more than 29 bits.

    """
    if not 0 <= identifier < 1 << 29:
        raise DataError(f"{identifier:#x} is not a 29-bit identifier.", todo="J1939 uses extended identifiers only.")
    pgn = identifier >> 8 & 0x3FFFF
    destination = GLOBAL
    if not is_broadcast_format(pgn):
        destination = pgn & 0xFF
        pgn &= 0x3FF00
    return Identifier(identifier >> 26, pgn, identifier & 0xFF, destination)


def join(priority: int, pgn: int, source: int, destination: int = GLOBAL) -> int:
    """Put an identifier together: the inverse of `split`.

    Raises:
        DataError: a field out of its range, a PDU1 group with a low byte, a PDU2 group with a destination.

    """
    fields = {
        "priority": (priority, 7),
        "PGN": (pgn, 0x3FFFF),
        "source": (source, 255),
        "destination": (destination, 255),
    }
    for field, (value, most) in fields.items():
        if not 0 <= value <= most:
            raise DataError(f"{field} {value} is outside 0 to {most}.")
    if is_broadcast_format(pgn):
        if destination != GLOBAL:
            raise DataError(f"PGN {pgn} is always for everyone.", todo="Use destination 255.")
        return priority << 26 | pgn << 8 | source
    if pgn & 0xFF:
        raise DataError(
            f"PGN {pgn} cannot be: the low byte of a PDU1 group is the destination.", todo="Set it to zero."
        )
    return priority << 26 | pgn << 8 | destination << 8 | source


def pgns(identifiers: npt.NDArray[np.uint32]) -> npt.NDArray[np.uint32]:
    """PGN of each 29-bit identifier: uint32[n] to uint32[n]."""
    groups = identifiers >> np.uint32(8) & np.uint32(0x3FFFF)
    return np.where(_is_pdu2(identifiers), groups, groups & np.uint32(0x3FF00))


def sources(identifiers: npt.NDArray[np.uint32]) -> npt.NDArray[np.uint8]:
    """Source address of each 29-bit identifier: uint32[n] to uint8[n]."""
    return (identifiers & np.uint32(0xFF)).astype(np.uint8)


def destinations(identifiers: npt.NDArray[np.uint32]) -> npt.NDArray[np.uint8]:
    """Destination address of each 29-bit identifier, 255 where it is for everyone: uint32[n] to uint8[n]."""
    specific = (identifiers >> np.uint32(8) & np.uint32(0xFF)).astype(np.uint8)
    return np.where(_is_pdu2(identifiers), np.uint8(GLOBAL), specific)


def _is_pdu2(identifiers: npt.NDArray[np.uint32]) -> npt.NDArray[np.bool_]:
    return (identifiers >> np.uint32(16) & np.uint32(0xFF)) >= _PDU2_FORMAT
