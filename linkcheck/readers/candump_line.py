"""The lines of a candump log (`candump -l`), read and written one by one.

A line is `(1436509052.249713) can0 18FEF100#0011223344556677`: time, interface, identifier, data. Every form of the
frame that can-utils writes or reads is taken: 3 digits for 11 bits, 8 for 29 bits, 8 with bit 29 set for an error
frame, `#R` and `#R5` for remote frames, `##1` and data for CAN FD, `_9` to `_F` behind 8 bytes for a raw length code,
a dot between bytes, ` T` and ` R` for the direction. Source: can-utils, lib.c (parse_canframe, sprint_canframe) and
candump.c.

This is the twin of the compiled kernel's parser, and says what is wrong with a line neither of them takes.
"""

from __future__ import annotations

import re
from typing import NamedTuple

from linkcheck.errors import DataError
from linkcheck.frames import BRS, ERROR, ESI, EXTENDED, FD, REMOTE, SENT, FrameBatch
from linkcheck.frames.fd import LENGTHS

__all__ = ["LONGEST_NAME", "LineError", "Row", "dropped_frames", "format_candump", "is_comment", "read_line"]

LONGEST_NAME = 15  # bytes of an interface name (IFNAMSIZ - 1, Linux include/uapi/linux/if.h)
ERROR_BIT = 0x20000000  # CAN_ERR_FLAG, Linux include/uapi/linux/can.h
_BRS, _ESI = 1, 2  # CANFD_BRS and CANFD_ESI of the flags digit, same source
_BLANKS = b" \t\r"
_WORD = re.compile(rb"[^ \t]+")
_NAME = re.compile(rb"[!-~]{1,%d}" % LONGEST_NAME)
_HEX = re.compile(rb"[0-9A-Fa-f]*")
_DATA = re.compile(rb"(?:\.?[0-9A-Fa-f]{2})*\.?")
_DROPPED = re.compile(rb"DROPCOUNT: dropped (\d{1,10}) ")


class LineError(ValueError):
    """Why a line gives no frame."""


class Row(NamedTuple):
    """One frame as a line tells it."""

    time_ns: int
    interface: bytes
    identifier: int
    flags: int
    length: int
    payload: bytes


def is_comment(line: bytes) -> bool:
    """Whether a line is blank, a remark (`#`, `;`) or the recorder's count of lost frames."""
    text = line.strip(_BLANKS)
    return not text or text[0] in b"#;" or text.startswith(b"DROPCOUNT:")


def dropped_frames(line: bytes) -> int:
    """How many frames the recorder says it lost (`candump -d -l`); 0 for any other line."""
    found = _DROPPED.match(line.strip(_BLANKS))
    return int(found[1]) if found else 0


def read_line(line: bytes) -> Row:
    """Read one line, without its newline.

    Raises:
        LineError: why it gives no frame.

    """
    text = line.strip(_BLANKS)
    stamp, bracket, rest = text[1:].partition(b")")
    if text[:1] != b"(" or not bracket:
        raise LineError("no time in brackets at the start")
    words = _WORD.findall(rest)
    if len(words) < 2:
        raise LineError("no interface and frame behind the time")
    if not _NAME.fullmatch(words[0]):
        raise LineError(f"the interface name is longer than {LONGEST_NAME} characters or has one that no name can have")
    identifier, flags, length, payload = _frame(words[1])
    if words[2:] == [b"T"]:
        flags |= SENT
    elif words[2:] not in ([], [b"R"]):
        raise LineError("something follows the frame")
    return Row(_time_ns(stamp), words[0], identifier, flags, length, payload)


def _time_ns(stamp: bytes) -> int:
    seconds, _, fraction = stamp.partition(b".")
    if not seconds.isdigit() or not (fraction.isdigit() or not fraction):
        raise LineError("the time is not a number of seconds")
    time_ns = int(seconds) * 1_000_000_000 + int(fraction[:9].ljust(9, b"0"))
    if time_ns >= 1 << 63:
        raise LineError("the time is beyond the year 2262")
    return time_ns


def _frame(word: bytes) -> tuple[int, int, int, bytes]:
    """Identifier, flags, length and payload."""
    digits, mark, body = word.partition(b"#")
    if not mark:
        raise LineError("no # between identifier and data")
    if len(digits) not in (3, 8) or not _HEX.fullmatch(digits):
        raise LineError("the identifier is not 3 or 8 hex digits")
    identifier, flags = int(digits, 16), EXTENDED if len(digits) == 8 else 0
    if flags and identifier & ERROR_BIT:
        identifier, flags = identifier ^ ERROR_BIT, ERROR
    if identifier > (0x1FFFFFFF if flags else 0x7FF):
        raise LineError("the identifier is larger than 29 bits" if flags else "the identifier is larger than 11 bits")
    if body[:1] in (b"R", b"r"):
        more, length, payload = REMOTE, _asked(body[1:]), b""
    elif body[:1] == b"#":
        more, payload = _fd(body[1:])
        length = len(payload)
    else:
        more, payload = 0, _classic(body)
        length = len(payload)
    if more and flags & ERROR:
        raise LineError("an error frame can be neither remote nor FD")
    return identifier, flags | more, length, payload


def _asked(body: bytes) -> int:
    """Length a remote frame asks for."""
    if re.fullmatch(rb"8_[9A-Fa-f]", body):
        return 8
    if not re.fullmatch(rb"[0-8]?", body):
        raise LineError("the length of a remote frame is not one digit from 0 to 8")
    return int(body or b"0")


def _classic(body: bytes) -> bytes:
    data, underscore, code = body.partition(b"_")
    payload = _bytes(data)
    if len(payload) > 8:
        raise LineError("more than 8 data bytes")
    if underscore and (len(payload) < 8 or not re.fullmatch(rb"[9A-Fa-f]", code)):
        raise LineError("the length code behind the data is not 9 to F behind 8 bytes")
    return payload


def _fd(body: bytes) -> tuple[int, bytes]:
    if not re.fullmatch(rb"[0-9A-Fa-f]", body[:1]):
        raise LineError("no flags digit behind ##")
    digit, payload = int(body[:1], 16), _bytes(body[1:])
    if len(payload) not in LENGTHS:
        raise LineError(f"no CAN FD frame has {len(payload)} data bytes")
    return FD | (BRS if digit & _BRS else 0) | (ESI if digit & _ESI else 0), payload


def _bytes(text: bytes) -> bytes:
    if not _DATA.fullmatch(text):
        whole = _HEX.fullmatch(text.replace(b".", b""))
        raise LineError("an odd number of hex digits in the data" if whole else "the data are not hex digits")
    return bytes.fromhex(text.replace(b".", b"").decode("ascii"))


def format_candump(batch: FrameBatch) -> bytes:
    """Write a batch as a candump log.

    Times are written in microseconds where they are whole ones, otherwise in nanoseconds. Frames the recorder sent
    itself end with ` T`; the others have no direction.

    Raises:
        DataError: a time before zero, or an interface name a candump log cannot hold.

    """
    for name in batch.channels:
        if not _NAME.fullmatch(name.encode()):
            raise DataError(f"A candump log cannot hold an interface called {name!r}.", todo="Rename it.")
    if len(batch) and batch.time_ns.min() < 0:
        raise DataError("A candump log cannot hold a time before zero.", todo="Shift the times.")
    wide = dict(zip(batch.wide_rows.tolist(), batch.wide_data, strict=True))
    columns = zip(
        batch.time_ns.tolist(),
        batch.channel.tolist(),
        batch.identifier.tolist(),
        batch.flags.tolist(),
        batch.length.tolist(),
        batch.data,
        strict=True,
    )
    lines = []
    for row, (time_ns, channel, identifier, flags, length, data) in enumerate(columns):
        payload = wide.get(row, data)[:length].tobytes()
        frame = _frame_text(identifier, flags, length, payload)
        lines.append(f"({_time_text(time_ns)}) {batch.channels[channel]} {frame}{' T' if flags & SENT else ''}\n")
    return "".join(lines).encode("ascii")


def _time_text(time_ns: int) -> str:
    seconds, rest = divmod(time_ns, 1_000_000_000)
    return f"{seconds}.{rest:09d}" if rest % 1000 else f"{seconds}.{rest // 1000:06d}"


def _frame_text(identifier: int, flags: int, length: int, payload: bytes) -> str:
    if flags & ERROR:
        return f"{identifier | ERROR_BIT:08X}#{payload.hex().upper()}"
    name = f"{identifier:08X}#" if flags & EXTENDED else f"{identifier:03X}#"
    if flags & FD:
        digit = (_BRS if flags & BRS else 0) | (_ESI if flags & ESI else 0)
        return f"{name}#{digit:X}{payload.hex().upper()}"
    if flags & REMOTE:
        return f"{name}R{length or ''}"
    return name + payload.hex().upper()
