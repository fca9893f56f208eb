"""The open ASCII protocol of serial-line CAN adapters, as values: commands out, lines in. No device here.

A command ends with a carriage return; the answer is a carriage return (done) or a bell (refused), frames come as lines
of their own between them. Sources: Linux kernel, drivers/net/can/slcan (frames, state and error lines, S0 to S8) and
python-can's slcan interface (FD lines, the status and version queries); the bits of the status byte as
published for the protocol (receive full, transmit full, warning, overrun, -, passive, arbitration lost, bus error;
some adapters put other bits there).
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field

from linkcheck.errors import UsageError
from linkcheck.frames import BRS, ERROR, EXTENDED, FD, REMOTE
from linkcheck.frames.fd import LENGTHS
from linkcheck.frames.records import RECORD_FORMAT

__all__ = ["BUS_ERROR_BIT", "RATE_COMMANDS", "LineParser", "Lines", "Status", "frame_command", "status_of"]

# Linux kernel slcan_bitrate_const; python-can calls S7 750 kbit/s.
RATE_COMMANDS = {
    10_000: b"S0",
    20_000: b"S1",
    50_000: b"S2",
    100_000: b"S3",
    125_000: b"S4",
    250_000: b"S5",
    500_000: b"S6",
    800_000: b"S7",
    1_000_000: b"S8",
}
_HEX = re.compile(rb"[0-9A-Fa-f]+")
BUS_ERROR_BIT = 0x80  # of the status byte
_LONGEST_LINE = 160  # an FD line with 64 bytes and a time stamp has 142 characters; more is noise
# First letter: identifier digits, flags.
_FRAMES = {
    ord("t"): (3, 0),
    ord("T"): (8, EXTENDED),
    ord("r"): (3, REMOTE),
    ord("R"): (8, EXTENDED | REMOTE),
    ord("d"): (3, FD),
    ord("D"): (8, EXTENDED | FD),
    ord("b"): (3, FD | BRS),
    ord("B"): (8, EXTENDED | FD | BRS),
}
_ZERO, _STATE, _TROUBLE = ord("0"), ord("s"), ord("e")
# Linux include/uapi/linux/can/error.h: CAN_ERR_CRTL, _PROT, _ACK, _BUSOFF, _BUSERROR, _CNT
_CRTL, _PROT, _ACK, _BUSOFF, _BUSERROR, _CNT = 0x4, 0x8, 0x20, 0x40, 0x80, 0x200
_RX_OVERFLOW, _TX_OVERFLOW, _ACTIVE = 0x01, 0x02, 0x40
_WARNING, _PASSIVE = (0x04, 0x08), (0x10, 0x20)  # receive, transmit
# Letter of an error line: class bits, then detail bytes 1 (controller), 2 (protocol), 3 (place).
_TROUBLES = {
    "a": (_ACK, 0, 0, 0x19),
    "b": (0, 0, 0x08, 0),
    "B": (0, 0, 0x10, 0),
    "c": (0, 0, 0x01, 0x08),
    "f": (0, 0, 0x02, 0),
    "s": (0, 0, 0x04, 0),
    "o": (_CRTL, _RX_OVERFLOW, 0, 0),
    "O": (_CRTL, _TX_OVERFLOW, 0, 0),
}


@dataclass(frozen=True, slots=True)
class Status:
    """The answer to F: what happened since it was last asked, and how the controller stands."""

    receive_full: bool
    transmit_full: bool
    warning: bool
    overrun: bool
    passive: bool
    arbitration_lost: bool
    bus_error: bool

    @property
    def lost(self) -> bool:
        """Whether the adapter says it dropped something it received."""
        return self.receive_full or self.overrun

    def error_frame(self) -> tuple[int, bytes] | None:
        """The same as class bits and detail bytes of an error frame; None where all is well."""
        detail = bytearray(8)
        classes = 0
        if self.lost:
            detail[1] |= _RX_OVERFLOW
        if self.transmit_full:
            detail[1] |= _TX_OVERFLOW
        if self.passive:
            detail[1] |= sum(_PASSIVE)  # F does not say which of the two counters it is
        elif self.warning:
            detail[1] |= sum(_WARNING)
        if detail[1]:
            classes |= _CRTL
        if self.bus_error:
            classes |= _BUSERROR
        return (classes, bytes(detail)) if classes else None


def status_of(value: int) -> Status:
    """The status byte taken apart."""
    bit = [bool(value >> i & 1) for i in range(8)]
    return Status(bit[0], bit[1], bit[2], bit[3], bit[5], bit[6], bit[7])


def frame_command(identifier: int, flags: int, payload: bytes, length: int | None = None) -> bytes:
    """The line that sends a frame, without its carriage return; adapters send the same for one received.

    Args:
        identifier: 11 or 29 bits.
        flags: as in `FrameBatch`.
        payload: its data bytes.
        length: what a remote frame asks for.

    Raises:
        UsageError: no such frame.

    """
    letter = "b" if flags & BRS else "d" if flags & FD else "r" if flags & REMOTE else "t"
    digits, limit = (8, 0x1FFFFFFF) if flags & EXTENDED else (3, 0x7FF)
    size = (length or 0) if flags & REMOTE else len(payload)
    known = LENGTHS if flags & FD else LENGTHS[:9]
    if not 0 <= identifier <= limit or size not in known or flags & ERROR:
        raise UsageError(f"Identifier {identifier:#x} with {size} bytes is no frame that can be sent.")
    head = f"{letter.upper() if digits == 8 else letter}{identifier:0{digits}X}{known.index(size):X}"
    return head.encode() + (b"" if flags & REMOTE else payload.hex().upper().encode())


@dataclass(slots=True)
class Lines:
    r"""What a block of characters held.

    Attributes:
        records: frames and error frames, packed, all with the time given.
        stamps: the adapter's own time (ms, 0-59,999) of each data frame that has one, by record number.
        answers: every other line in its order: b"" done, b"\a" refused, or what was asked for.
        damaged: lines that make no sense.
        tells_errors: there was an error line among them. counters: error counters (transmit, receive) as told.

    """

    records: bytearray = field(default_factory=bytearray)
    stamps: dict[int, int] = field(default_factory=dict)
    answers: list[bytes] = field(default_factory=list)
    damaged: int = 0
    tells_errors: bool = False
    counters: tuple[int, int] | None = None


class LineParser:
    """Cuts the stream of characters into lines, wherever blocks end, and reads them."""

    def __init__(self) -> None:
        self._rest = b""

    def feed(self, block: bytes, time_ns: int) -> Lines:
        """Read the next characters, which arrived at `time_ns`."""
        found = Lines()
        # A bell ends a line too; it stays with it to tell the two apart.
        *lines, self._rest = (self._rest + block).replace(b"\a", b"\a\r").split(b"\r")
        if len(self._rest) > _LONGEST_LINE:
            self._rest = b""
            found.damaged += 1
        for line in lines:
            kind = _FRAMES.get(line[0]) if line else None
            try:
                if kind:
                    _read_frame(line, *kind, time_ns, found)
                elif line[:1] == b"s" and len(line) > 2:
                    _read_state(line.decode("ascii"), time_ns, found)
                elif line[:1] == b"e":
                    _read_trouble(line.decode("ascii"), time_ns, found)
                elif line in (b"", b"\a") or line[:1] in (b"z", b"Z", b"F", b"V", b"N", b"v"):
                    found.answers.append(line)
                else:
                    found.damaged += 1
            except ValueError:
                found.damaged += 1
        return found


def _read_frame(line: bytes, digits: int, flags: int, time_ns: int, found: Lines) -> None:
    if not _HEX.fullmatch(line, 1):  # int() would take 0x, signs and underscores too
        raise ValueError
    at = digits + 2
    identifier, code = int(line[1 : digits + 1], 16), int(line[digits + 1 : at], 16)
    size = LENGTHS[code] if flags & FD else code
    sent = 0 if flags & REMOTE else 2 * size
    rest = len(line) - at - sent
    too_long = size > 8 and not flags & FD
    if too_long or rest not in (0, 4) or identifier > (0x1FFFFFFF if digits == 8 else 0x7FF):
        raise ValueError
    payload = bytes.fromhex(line[at : at + sent].decode("ascii"))
    if 2 * len(payload) != sent:
        raise ValueError
    if rest:
        found.stamps[len(found.records) // RECORD_FORMAT.size] = int(line[at + sent :], 16)
    found.records += RECORD_FORMAT.pack(time_ns, identifier, flags, 0, size, payload)


def _read_state(line: str, time_ns: int, found: Lines) -> None:
    if len(line) != 8 or not line[2:].isdecimal():
        raise ValueError
    receive, transmit = int(line[2:5]), int(line[5:8])
    detail = bytearray(8)
    detail[6], detail[7] = min(transmit, 255), min(receive, 255)
    classes = _CNT
    if line[1] == "b":
        classes |= _BUSOFF
    elif line[1] in "awp":
        levels = {"a": (_ACTIVE, _ACTIVE), "w": _WARNING, "p": _PASSIVE}[line[1]]
        classes |= _CRTL
        detail[1] = (levels[0] if receive >= transmit else 0) | (levels[1] if transmit >= receive else 0)
    else:
        raise ValueError
    found.counters = transmit, receive
    found.records += RECORD_FORMAT.pack(time_ns, classes, ERROR, 0, 8, bytes(detail))


def _read_trouble(line: str, time_ns: int, found: Lines) -> None:
    found.tells_errors = True
    letters = line[2 : 2 + int(line[1])]
    if not letters or len(letters) != int(line[1]) or set(letters) - set(_TROUBLES):
        raise ValueError
    classes, detail = _PROT | _BUSERROR, bytearray(8)
    for letter in letters:
        more, controller, protocol, place = _TROUBLES[letter]
        classes |= more
        detail[1] |= controller
        detail[2] |= protocol
        detail[3] = place or detail[3]
    found.records += RECORD_FORMAT.pack(time_ns, classes, ERROR, 0, 8, bytes(detail))
