"""What an error frame says, as SocketCAN reports it.

Class bits and detail bytes in, plain words out; nothing is counted here and nothing raised. Meanings follow the Linux
kernel's include/uapi/linux/can/error.h. A bit that header does not know is named as unknown, with its value.
"""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["BusError", "decode_error"]

_COUNTERS = 0x200  # class bit: the error counters are valid

_CLASSES = {
    0x001: "transmit timed out",
    0x002: "arbitration lost",
    0x004: "controller problem",
    0x008: "protocol violation",
    0x010: "transceiver status",
    0x020: "no acknowledgement",
    0x040: "bus off",
    0x080: "bus error",
    0x100: "controller restarted",
}
_CONTROLLER = {
    0x01: "receive buffer overflow",
    0x02: "transmit buffer overflow",
    0x04: "receive errors reached warning level",
    0x08: "transmit errors reached warning level",
    0x10: "receive errors reached passive level",
    0x20: "transmit errors reached passive level",
    0x40: "back to error-active",
}
_PROTOCOL = {
    0x01: "single bit error",
    0x02: "frame format error",
    0x04: "bit stuffing error",
    0x08: "unable to send dominant bit",
    0x10: "unable to send recessive bit",
    0x20: "bus overload",
    0x40: "active error announcement",
    0x80: "error while transmitting",
}
_LOCATIONS = {
    0x02: "identifier bits 28 to 21",
    0x03: "start of frame",
    0x04: "substitute remote request bit",
    0x05: "identifier extension bit",
    0x06: "identifier bits 20 to 18",
    0x07: "identifier bits 17 to 13",
    0x08: "CRC sequence",
    0x09: "reserved bit 0",
    0x0A: "data section",
    0x0B: "data length code",
    0x0C: "remote request bit",
    0x0D: "reserved bit 1",
    0x0E: "identifier bits 4 to 0",
    0x0F: "identifier bits 12 to 5",
    0x12: "intermission",
    0x18: "CRC delimiter",
    0x19: "acknowledge slot",
    0x1A: "end of frame",
    0x1B: "acknowledge delimiter",
}
_TRANSCEIVER = {  # one of four states for each line, and one for the pair
    0x04: "CAN high has no wire",
    0x05: "CAN high shorted to battery",
    0x06: "CAN high shorted to supply",
    0x07: "CAN high shorted to ground",
    0x40: "CAN low has no wire",
    0x50: "CAN low shorted to battery",
    0x60: "CAN low shorted to supply",
    0x70: "CAN low shorted to ground",
    0x80: "CAN low shorted to CAN high",
}


@dataclass(frozen=True, slots=True)
class BusError:
    """An error frame in words.

    Attributes:
        classes: what kinds of trouble; empty where the frame only reports its counters.
        arbitration_bit: bit in which arbitration was lost, None where not told.
        controller, protocol, transceiver: details; ("unspecified",) where the class is set and no detail given.
        location: field of the frame in which a protocol violation was met, None where not told.
        tx_errors, rx_errors: the controller's error counters, None where not told.

    """

    classes: tuple[str, ...]
    arbitration_bit: int | None = None
    controller: tuple[str, ...] = ()
    protocol: tuple[str, ...] = ()
    location: str | None = None
    transceiver: tuple[str, ...] = ()
    tx_errors: int | None = None
    rx_errors: int | None = None


def decode_error(identifier: int, data: bytes) -> BusError:
    """Put an error frame in words.

    Args:
        identifier: the class bits, with or without the error flag (bit 29).
        data: the eight detail bytes; missing ones count as zero.

    """
    bits, detail = identifier & 0x1FFFFFFF, data.ljust(8, b"\0")
    # Kernels before 6.0 fill the counters in without saying so; can-utils shows them then too.
    counted = len(data) >= 8 and bool(bits & _COUNTERS or detail[6] or detail[7])
    violation = bool(bits & 0x008)
    return BusError(
        classes=_named(bits & ~_COUNTERS, _CLASSES, "class"),
        arbitration_bit=(detail[0] or None) if bits & 0x002 else None,
        controller=_details(detail[1], _CONTROLLER, "controller") if bits & 0x004 else (),
        protocol=_details(detail[2], _PROTOCOL, "protocol") if violation else (),
        location=_LOCATIONS.get(detail[3], f"unknown location {detail[3]:#04x}") if violation and detail[3] else None,
        transceiver=_transceiver(detail[4]) if bits & 0x010 else (),
        tx_errors=detail[6] if counted else None,
        rx_errors=detail[7] if counted else None,
    )


def _named(bits: int, names: dict[int, str], kind: str) -> tuple[str, ...]:
    """The name of every bit set, lowest first."""
    alone = (1 << n for n in range(bits.bit_length()) if bits >> n & 1)
    return tuple(names.get(bit, f"unknown {kind} bit {bit:#x}") for bit in alone)


def _details(bits: int, names: dict[int, str], kind: str) -> tuple[str, ...]:
    return _named(bits, names, kind) or ("unspecified",)


def _transceiver(status: int) -> tuple[str, ...]:
    """State of CAN high (low four bits) and of CAN low (high four bits)."""
    lines = tuple(part for part in (status & 0x0F, status & 0xF0) if part)
    return tuple(_TRANSCEIVER.get(part, f"unknown transceiver status {part:#04x}") for part in lines) or (
        "unspecified",
    )
