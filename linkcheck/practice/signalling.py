"""How an error spreads through a frame: who notices what, and at which bit.

Pure geometry on one frame's bits; counters and time belong to `bus`. A controller that finds an error sends a flag of
six equal bits; the others notice the flag because it breaks the stuffing rule or a bit of fixed form.

Rules: CAN Specification 2.0 (September 1991), part B, sections 3.2.3 (error frame) and 7 (error handling); the same in
ISO 11898-1.
"""

from __future__ import annotations

import enum
from dataclasses import dataclass

from linkcheck.practice.wire import Place, Wire

__all__ = ["BusError", "ErrorKind", "as_noticed", "as_origin", "first_difference", "noticed_at"]

TOO_MANY = 6  # equal bits that break the stuffing rule


class ErrorKind(enum.Enum):
    """How a controller noticed that something was wrong."""

    STUFF = "six equal bits"
    FORM = "a dominant bit where the format wants a recessive one"
    CRC = "the checksum does not fit"
    BIT_0 = "sent dominant, saw recessive"
    BIT_1 = "sent recessive, saw dominant"
    ACK = "nobody acknowledged"


@dataclass(frozen=True, slots=True)
class BusError:
    """An error as one controller saw it: kind, part of the frame, and whether it was sending."""

    kind: ErrorKind
    place: Place
    sending: bool = False


def first_difference(wires: list[Wire]) -> int | None:
    """First bit in which frames with one identifier differ, or None when they are the same."""
    for place, levels in enumerate(zip(*(wire.levels for wire in wires), strict=False)):
        if len(set(levels)) > 1:
            return place
    return None


def noticed_at(wire: Wire, bit: int, *, dominant: bool) -> int:
    """Bit at which receivers notice that the bus stays at one level after `bit`.

    Args:
        wire: the frame that was being sent.
        bit: the last bit as sent.
        dominant: True for an active error flag, False for a sender that fell silent or sends a passive flag. A bus that
            stays recessive into the trailer is told by the checksum, which is flagged after the ACK delimiter.

    """
    stuff = bit + max(1, TOO_MANY - wire.run_before(bit, "0" if dominant else "1"))
    if not dominant:
        return min(stuff, wire.first(Place.ACK_DELIMITER))
    fixed = max(bit + 1, wire.first(Place.CRC_DELIMITER))
    if wire.places[fixed] is Place.ACK_SLOT:  # may be dominant
        fixed += 1
    return min(stuff, fixed)


def as_noticed(wire: Wire, bit: int, *, dominant: bool) -> BusError:
    """What a receiver calls the error it noticed at `bit`; `dominant` as in `noticed_at`."""
    place = wire.places[bit]
    if dominant:
        kind = ErrorKind.FORM if bit >= wire.first(Place.CRC_DELIMITER) else ErrorKind.STUFF
    else:
        kind = ErrorKind.CRC if place is Place.ACK_DELIMITER else ErrorKind.STUFF
    return BusError(kind, place)


def as_origin(wire: Wire, bit: int, *, sending: bool) -> BusError:
    """What the controller calls the error that it was the first to see, at `bit`."""
    place = wire.places[bit]
    if not sending:
        return BusError(ErrorKind.CRC if place is Place.ACK_DELIMITER else ErrorKind.STUFF, place)
    if place is Place.ACK_SLOT:
        return BusError(ErrorKind.ACK, place, sending=True)
    return BusError(ErrorKind.BIT_1 if wire.levels[bit] == "1" else ErrorKind.BIT_0, place, sending=True)
