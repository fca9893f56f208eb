"""What a CAN controller reports beside frames, as SocketCAN-like error frames.

Text formats write error codes, states and error counters in ways of their own; here they become the class bits and
the eight data bytes that Linux uses (include/uapi/linux/can/error.h), so that one analysis serves all.
"""

from __future__ import annotations

__all__ = ["BUS_ERROR", "LAST_CLASS", "counters", "protocol_error", "state"]

# Classes, and bits of the data bytes, by their names in error.h.
_CRTL, _PROT, _ACK, _BUSOFF, BUS_ERROR, _CNT = 0x4, 0x8, 0x20, 0x40, 0x80, 0x200
LAST_CLASS = _CNT
_PROT_BITS = {"bit": 0x01, "form": 0x02, "stuff": 0x04}
_PROT_TX = 0x80
_CRTL_ACTIVE = 0x40
_CRTL_LEVELS = {"warning": (0x08, 0x04, 96), "passive": (0x20, 0x10, 128)}  # transmit, receive, from this count on
_ACK_SLOT, _LAST_PLACE = 0x19, 0x1C  # of the places in a frame (CAN_ERR_PROT_LOC_*)

Report = tuple[int, bytes]


def _report(classes: int, detail: dict[int, int]) -> Report:
    return classes, bytes(min(255, detail.get(i, 0)) for i in range(8))


def protocol_error(kind: str, place: int, *, sending: bool, transmit: int = 0, receive: int = 0) -> Report:
    """An error met in a frame.

    Args:
        kind: "bit", "form", "stuff" or anything else.
        place: where in the frame, as numbered by CAN_ERR_PROT_LOC_*; the controllers' error code uses the same.
        sending: the controller was the sender.
        transmit: its transmit error counter, zero where not known.
        receive: its receive error counter, likewise.

    """
    classes = _PROT | BUS_ERROR | (_CNT if transmit or receive else 0)
    if sending and kind not in _PROT_BITS and place == _ACK_SLOT:
        classes |= _ACK
    detail = _PROT_BITS.get(kind, 0) | (_PROT_TX if sending else 0)
    return _report(classes, {2: detail, 3: place if place <= _LAST_PLACE else 0, 6: transmit, 7: receive})


def state(level: str, *, transmit: int | None = None, receive: int | None = None, overflow: int = 0) -> Report | None:
    """A controller's state, or None where there is nothing to report.

    Args:
        level: "active", "warning", "passive", "off", or empty where the level is not said.
        transmit: transmit error counter where known; tells whether sending reached the level.
        receive: receive error counter, likewise.
        overflow: bit 0 for the receive buffer, bit 1 for the transmit buffer.

    """
    detail, classes = overflow, 0
    if level == "active":
        detail |= _CRTL_ACTIVE
    elif level in _CRTL_LEVELS:
        transmit_bit, receive_bit, limit = _CRTL_LEVELS[level]
        reached = (transmit_bit if (transmit or 0) >= limit else 0) | (receive_bit if (receive or 0) >= limit else 0)
        detail |= reached or transmit_bit | receive_bit
    elif level == "off":
        classes |= _BUSOFF
    classes |= (_CRTL if detail else 0) | (_CNT if classes | detail and (transmit or receive) else 0)
    return _report(classes, {1: detail, 6: transmit or 0, 7: receive or 0}) if classes else None


def counters(*, transmit: int, receive: int) -> Report:
    """Error counters alone."""
    return _report(_CNT, {6: transmit, 7: receive})
