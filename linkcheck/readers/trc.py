"""The TRC text format, versions 1.0 to 2.1: header, rows of frames, and the error rows other readers drop.

A file opens with remarks (`;`), among them `;$FILEVERSION`, `;$STARTTIME` (days since 1899-12-30) and, from 2.0 on,
`;$COLUMNS`. Times count milliseconds from the start. Layouts follow the format's public description as restated in
python-can's can/io/trc.py and in the examples of cantools' tests/test_logreader.py; the meaning of the bytes in error
and counter rows is from memory and fits those examples.

Rows that are no frames become SocketCAN-like error frames where they can (see `controller`):

| row | becomes |
|---|---|
| `Error`/`ER`: kind, direction, place, receive and transmit error counter | protocol error with kind and place; "no acknowledgement" where the sender met it in the ACK slot |
| `Warng`/`ST`: state of the controller | overflow, warning, passive, bus-off, or active again |
| `EC`: receive and transmit error counter | counters alone |
| `EV`: a remark of the user's | counted as a comment |
"""  # noqa: E501 (a table)

from __future__ import annotations

import re
from decimal import Decimal
from functools import partial
from typing import BinaryIO

from linkcheck.frames import BRS, ERROR, ESI, EXTENDED, FD, REMOTE, SENT
from linkcheck.frames.fd import LENGTHS
from linkcheck.readers import controller
from linkcheck.readers.layout import NO_CHANNEL, Layout, Line
from linkcheck.readers.lines import Block
from linkcheck.readers.text import TextCapture

__all__ = ["TrcCapture"]

_BYTES = rb"[0-9A-Fa-f]{2}(?:\ [0-9A-Fa-f]{2})*"
_START = rb"(?P<number>\ *\d+)\)?(?P<whole>\ +\d+)(?:\.(?P<fraction>\d{1,6}))?"
_IDENTIFIER = rb"\ +(?P<identifier>[0-9A-Fa-f]{3,8})"
_LENGTH = rb"\ +(?P<length>\d{1,2})"
_REST = rb"(?:\ +(?P<word>RTR|ERROR)(?!\S))?(?:\ +(?P<data>" + _BYTES + rb")(?!\S))?\ *(?P<tail>\S.*)?"
_TYPE = rb"\ +(?P<type>[A-Za-z]{2,5})"
_BUS = rb"\ +(?P<bus>\d{1,2}|-)"

# Versions 1.x by their row; from 2.0 on the columns are given by letters (N is the row's number).
_ROWS = {
    "1.3": _START + _BUS + _TYPE + _IDENTIFIER + rb"\ +-" + _LENGTH + _REST,
    "1.2": _START + _BUS + _TYPE + _IDENTIFIER + _LENGTH + _REST,
    "1.1": _START + _TYPE + _IDENTIFIER + _LENGTH + _REST,
    "1.0": _START + _IDENTIFIER + _LENGTH + _REST,
}
_COLUMNS = {"2.1": "N,O,T,B,I,d,R,L,D", "2.0": "N,O,T,I,d,l,D"}
_LETTERS = {
    "T": _TYPE,
    "B": _BUS,
    "I": _IDENTIFIER,
    "d": rb"\ +(?P<way>Rx|Tx)",
    "R": rb"\ +-",
    "l": _LENGTH,
    "L": _LENGTH,
    "D": rb"(?:\ +(?P<data>" + _BYTES + rb")(?!\S))?",
}
_EVENT = re.compile(_START + rb"\ +(?P<type>ER|ST|EC|EV)(?:\ +(?P<bus>\d{1,2}|-)(?!\S))?(?P<rest>.*)")
_EVENT_BYTES = {b"ER": 5, b"ST": 4, b"EC": 2}
_HEADER = re.compile(rb";\$(?P<key>[A-Z]+)=(?P<value>.*)")
_BLANK = re.compile(rb"\s*(?:;.*)?")

_FRAME_TYPES = {b"DT": 0, b"RR": REMOTE, b"FD": FD, b"FB": FD | BRS, b"FE": FD | ESI, b"BI": FD | BRS | ESI}
_FRAME_TYPES |= {b"Rx": 0, b"Tx": SENT}

_DAYS = re.compile(r"\d{1,6}(?:\.\d{1,16})?")
_EPOCH_DAYS = 25569  # 1970-01-01 in days since 1899-12-30
_DAY_US = 86_400 * 10**6
LOCAL = "the start time is in the recorder's own time zone, which the file does not name; read as UTC"

_KINDS = {1: "bit", 2: "form", 4: "stuff"}  # 8 stands for every other
# Bits of a controller's state, from python-can's table of driver states. Below "error passive" the format
# knows a "light" and a "heavy" limit, the heavy one also called "warning"; both count as a warning here.
_TRANSMIT_FULL, _OVERRUN = 0x1, 0x2
_LEVELS = ((0x10, "off"), (0x40000, "passive"), (0x4 | 0x8, "warning"))


class TrcCapture(TextCapture):
    """A TRC file."""

    def __init__(self, path: str, stream: BinaryIO) -> None:
        self._version = ""
        self._columns = ""
        self._row: re.Pattern[bytes] | None = None
        self._start_ns = 0
        super().__init__(path, stream)

    def begin(self, first: Block) -> None:
        """Read the header, up to the first row."""
        for i in range(len(first)):
            self.parse(first.line(i))
            if self._row is not None:
                break
        self.format = f"TRC {self._version}".rstrip()

    def parse(self, line: bytes) -> Line:
        """Read one row."""
        if header := _HEADER.match(line):
            self._head(header["key"], header["value"].strip().decode("latin-1"))
            return Line(comment=True)
        if _BLANK.fullmatch(line):
            return Line(comment=True)
        if event := _EVENT.fullmatch(line):
            return self._event(event)
        row = self._pattern(line)
        match = row.fullmatch(line.rstrip()) if row else None
        if match is None:
            return Line(f"not a row of a {self.format} file")
        time_ns = self._time(match)
        if time_ns >= 1 << 63:
            return Line("time stamp out of range")
        return self._frame(match, line, time_ns)

    def _head(self, key: bytes, value: str) -> None:
        if key == b"FILEVERSION" and not self._version:
            self._version = value
            if value not in (*_ROWS, *_COLUMNS):
                self._note(f"version {value} of the TRC format is not known; its rows may be misread")
        elif key == b"COLUMNS":
            self._columns = value
        elif key == b"STARTTIME" and _DAYS.fullmatch(value):
            start_ns = int((Decimal(value) - _EPOCH_DAYS) * _DAY_US) * 1000
            if 0 < start_ns < 1 << 62:
                self._start_ns = start_ns
                self._note(LOCAL)

    def _note(self, sentence: str) -> None:
        if sentence not in self.tally.notes:
            self.tally.notes.append(sentence)

    def _pattern(self, line: bytes) -> re.Pattern[bytes] | None:
        """How rows of this file are built: by its header, or by the first row that fits a known version."""
        if self._row is None:
            version = self._version
            candidates = [version] if version in (*_ROWS, *_COLUMNS) else [*_COLUMNS, *_ROWS]
            for candidate in candidates:
                row = re.compile(_ROWS.get(candidate) or _by_columns(self._columns, _COLUMNS[candidate]))
                if row.fullmatch(line.rstrip()):
                    self._row, self._version = row, version or candidate
                    break
        return self._row

    def _time(self, match: re.Match[bytes]) -> int:
        return self._start_ns + int(match["whole"]) * 10**6 + int((match["fraction"] or b"").ljust(6, b"0"))

    def _event(self, match: re.Match[bytes]) -> Line:
        """A row of version 2 that is no frame."""
        kind = match["type"]
        if kind == b"EV":
            return Line(comment=True)
        words = match["rest"].split()
        data = _hex(words[-_EVENT_BYTES[kind] :])
        time_ns = self._time(match)
        if len(data) != _EVENT_BYTES[kind] or time_ns >= 1 << 63:
            return Line(f"an {kind.decode()} row that cannot be read", time_ns=time_ns)
        channel = _channel(match["bus"])
        if kind == b"ER":
            return _error(time_ns, channel, data)
        if kind == b"ST":
            return _state(time_ns, channel, data)
        return _report(time_ns, channel, controller.counters(receive=data[0], transmit=data[1]))

    def _frame(self, match: re.Match[bytes], line: bytes, time_ns: int) -> Line:
        parts = match.groupdict()
        kind, data = parts.get("type") or b"Rx", _hex((match["data"] or b"").split())
        channel = _channel(parts.get("bus"))
        if kind == b"Error" or parts.get("word") == b"ERROR":
            return _error(time_ns, channel, bytes([int(match["identifier"], 16) & 0xFF]) + data)
        if kind == b"Warng" or match["identifier"].upper() == b"FFFFFFFF":
            return _state(time_ns, channel, data[:4])
        if kind not in _FRAME_TYPES:
            return Line(f"row type {kind.decode('latin-1')} is not known")
        flags = _FRAME_TYPES[kind] | (SENT if parts.get("way") == b"Tx" else 0)
        if parts.get("word") == b"RTR":
            flags |= REMOTE
        identifier = int(match["identifier"], 16)
        extended = len(match["identifier"]) > 4
        length, reason = _length(int(match["length"]), len(data), flags)
        if identifier > (0x1FFFFFFF if extended else 0x7FF):
            reason = "identifier out of range"
        if parts.get("tail"):
            reason = reason or "unexpected text at the end of the row"
        if reason:
            return Line(reason)
        return Line(
            time_ns=time_ns,
            channel=channel,
            identifier=identifier,
            flags=flags | (EXTENDED if extended else 0),
            length=length,
            payload=data,
            layout=None if flags & FD else partial(self._layout, match, line),
        )

    def _layout(self, match: re.Match[bytes], line: bytes) -> Layout:
        return Layout(
            line,
            time=[match.span("whole"), match.span("fraction")] if match["fraction"] else [match.span("whole")],
            unit_ns=10 ** (6 - len(match["fraction"] or b"")),
            base_ns=self._start_ns,
            identifier=match.span("identifier"),
            data=match.span("data") if match["data"] else (0, 0),
            ignored=[match.span("number")],
        )


def _by_columns(columns: str, default: str) -> bytes:
    """The row's pattern from its `$COLUMNS` letters; a letter that is not known stands for one word."""
    letters = columns.split(",")
    whole = letters[:2] == ["N", "O"] and {"T", "I", "D"} < set(letters) and len({"l", "L"} & set(letters)) == 1
    if not whole or len(letters) > len(set(letters)):
        letters = default.split(",")
    return _START + b"".join(_LETTERS.get(letter, rb"\ +\S+") for letter in letters[2:])


def _channel(bus: bytes | None) -> str:
    return NO_CHANNEL if bus in (None, b"-") else bus.decode()


def _hex(words: list[bytes]) -> bytes:
    """Two-digit words as bytes; empty if any is something else."""
    try:
        return bytes(int(word, 16) for word in words) if all(len(word) == 2 for word in words) else b""
    except ValueError:
        return b""


def _length(given: int, has: int, flags: int) -> tuple[int, str]:
    """Length of a frame from the length (or its code) as written and the bytes there; and what is wrong with it."""
    if flags & REMOTE:
        return given, "a remote frame with data" if has else "length out of range" if given > 8 else ""
    if flags & FD:
        lengths = {given, LENGTHS[given]} if given < len(LENGTHS) else {given}
    else:
        lengths = {min(8, given)} if given <= 15 else set()
    if has in lengths and has in LENGTHS:
        return has, ""
    return 0, f"length says {given}, the row holds {has} data bytes"


def _report(time_ns: int, channel: str, report: tuple[int, bytes]) -> Line:
    classes, payload = report
    return Line(time_ns=time_ns, channel=channel, identifier=classes, flags=ERROR, length=8, payload=payload)


def _error(time_ns: int, channel: str, data: bytes) -> Line:
    """An error row: kind, direction (0: while sending), place, receive and transmit error counter."""
    if len(data) != 5:
        return Line("an error row that cannot be read", time_ns=time_ns)
    kind, direction, place, receive, transmit = data
    sending = direction == 0
    report = controller.protocol_error(_KINDS.get(kind, ""), place, sending=sending, transmit=transmit, receive=receive)
    return _report(time_ns, channel, report)


def _state(time_ns: int, channel: str, data: bytes) -> Line:
    """A state row: four bytes, most significant first."""
    bits = int.from_bytes(data, "big")
    level = "" if bits else "active"
    level = next((name for mask, name in _LEVELS if bits & mask), level)
    overflow = (1 if bits & _OVERRUN else 0) | (2 if bits & _TRANSMIT_FULL else 0)
    report = controller.state(level, overflow=overflow)
    if len(data) != 4 or report is None:
        return Line(f"controller state {data.hex()} is not known", time_ns=time_ns)
    return _report(time_ns, channel, report)
