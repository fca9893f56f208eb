r"""candump's console output: what `candump` prints on a terminal, in all its styles.

One line is `[(time)] interface [RX|TX B E] identifier [length] data`, as can-utils' candump.c and lib.c
(`sprint_long_canframe`) print it: `[8]` for a classic frame, `[08]` for CAN FD, `{9}` for a raw length code above 8
(-8), `- -`/`B E` after the direction (-x), data in hexadecimal, in binary (-i) or last byte first (-S, joined by a
back-quote), then `remote request`, `ERRORFRAME` or the data as text (-a). Tab-indented lines explain an error frame
(-e), `DROPCOUNT:` lines say how many frames the kernel lost (-d).

Times may be absolute (-ta), since the start (-tz), since the line before (-td), a date in the recorder's local time
(-tA), or missing. -td looks like -tz on every single line; what tells them apart is that times since the start do not
go back. CAN XL frames are counted and skipped. No shapes of the log format (`candump -l`) are read here.
"""

from __future__ import annotations

import re
from datetime import UTC, datetime
from functools import partial
from typing import BinaryIO

import numpy as np

from linkcheck.frames import BRS, ERROR, ESI, EXTENDED, FD, REMOTE, SENT
from linkcheck.frames.fd import LENGTHS
from linkcheck.readers.layout import Columns, Layout, Line, read_block
from linkcheck.readers.lines import Block
from linkcheck.readers.text import TextCapture

__all__ = ["CONSOLE_LINE", "ConsoleCapture"]

CONSOLE_LINE = re.compile(
    rb"""\ *
    (?:\((?P<date>\d{4}-\d\d-\d\d\ \d\d:\d\d:)?(?P<whole>\d+)\.(?P<fraction>\d{1,9})\)\ +)?
    (?P<channel>[!-'*-~]{1,15})
    (?:\ \ (?P<way>[RT]X)\ (?P<brs>[B-])\ (?P<esi>[E-]))?
    \ +(?P<identifier>[0-9A-Fa-f]{3}|[0-9A-Fa-f]{8})
    \ +(?P<bracket>[\[{])(?P<length>[0-9A-F]{1,2})[\]}]
    (?:\ +(?:(?P<bits>[01]{8}(?:[ `][01]{8})*)|(?P<data>[0-9A-Fa-f]{2}(?:[ `][0-9A-Fa-f]{2})*)))?
    (?:\ +(?P<tail>remote\ request|ERRORFRAME|(?P<text>'.*'|`.*`)))?
    \ *""",
    re.VERBOSE,
)
_XL = re.compile(rb".*\[\d{4}\] \([0-9A-F]{2}\|")
_DROPS = re.compile(rb"DROPCOUNT: dropped (\d+) CAN frames? ")
_REMARK = re.compile(rb"\s*$|\t|\S+: interface down")
_NO_LENGTH = 99  # two letters where digits should be
_ABSOLUTE_DIGITS = 10  # of the seconds since 1970 (candump prints %010ld; zero-based times have three or more)
_DELTA_SHARE = 0.1  # of steps going back that marks times as deltas; the clock of a recorder seldom goes back at all
_STEP_NS = 1000  # between the frames of a recording without times

TIMELESS = "no time stamps: bus load, periods and silences cannot be computed"
DELTAS = "times are those since the line before; they were added up, so lost lines shorten the recording"
LOCAL = "dates are in the recorder's own time zone, which the file does not name; read as UTC"


class ConsoleCapture(TextCapture):
    """candump console output.

    Attributes:
        timeless: the recording has no times; `time_ns` then counts frames in steps of 1 microsecond.

    """

    format = "candump console output"

    def __init__(self, path: str, stream: BinaryIO) -> None:
        self._settled = self._deltas = self._absolute = self._dated = False
        self._clock_ns = 0
        super().__init__(path, stream)

    def begin(self, first: Block) -> None:
        """Decide what the times are."""
        self._decide(read_block(first, self.parse, []))

    def parse(self, line: bytes) -> Line:
        """Read one line."""
        match = CONSOLE_LINE.fullmatch(line)
        if match is None:
            return _other(line)
        whole = match["whole"]
        time_ns, base_ns = None, 0
        if whole is not None:
            fraction = match["fraction"]
            base_ns = _minute_ns(match["date"]) if match["date"] else 0
            time_ns = base_ns + int(whole) * 10**9 + int(fraction.ljust(9, b"0"))
            if time_ns >= 1 << 63 or base_ns < 0:
                return Line("time stamp out of range")
        reason = _fault(match)
        if reason:
            return Line(reason, time_ns=time_ns)
        self._dated |= bool(match["date"])
        self._absolute |= self._dated or len(whole or b"") >= _ABSOLUTE_DIGITS
        return _frame(match, line, time_ns, base_ns)

    def settle(self, columns: Columns) -> None:
        """Make the times of all lines mean the same."""
        if not self._settled:
            self._decide(columns)
        if self.timeless:
            columns.refuse(columns.timed, "a time stamp in a recording without time stamps")
            steps = np.cumsum(columns.kept)
            columns.time_ns[:] = self._clock_ns + (steps - 1) * _STEP_NS
            self._clock_ns += int(steps[-1]) * _STEP_NS
            return
        columns.refuse(~columns.timed, "no time stamp")
        if self._deltas:
            # A skipped line's time still passed.
            total = np.cumsum(np.where(columns.timed, columns.time_ns, 0)) + self._clock_ns
            self._clock_ns = int(total[-1])
            columns.time_ns[:] = total

    def _decide(self, columns: Columns) -> None:
        """Decide from the first lines that hold frames what their times are."""
        if not columns.kept.any():
            return
        self._settled = True
        times = columns.time_ns[columns.kept & columns.timed]
        self.timeless = not len(times)
        back = int(np.count_nonzero(np.diff(times) < 0))
        self._deltas = not self._absolute and back > _DELTA_SHARE * max(1, len(times) - 1)
        notes = ((self.timeless, TIMELESS), (self._deltas, DELTAS), (self._dated, LOCAL))
        self.tally.notes += [note for holds, note in notes if holds]


def _other(line: bytes) -> Line:
    """A line that holds no frame."""
    if drops := _DROPS.match(line):
        return Line(comment=True, dropped=int(drops[1]))
    if _REMARK.match(line):
        return Line(comment=True)
    if _XL.match(line):
        return Line("a CAN XL frame, which is not read")
    return Line("not a line of candump console output")


def _minute_ns(date: bytes) -> int:
    try:
        minute = datetime.strptime(date.decode() + "00", "%Y-%m-%d %H:%M:%S").replace(tzinfo=UTC)
    except ValueError:
        return -1
    return int(minute.timestamp()) * 10**9


def _is_fd(match: re.Match[bytes]) -> bool:
    return bool(match["bracket"] == b"[" and len(match["length"]) == 2)


def _length(match: re.Match[bytes]) -> int:
    if match["bracket"] == b"{":  # a raw length code: above 8 it still stands for 8 bytes
        return min(8, int(match["length"], 16))
    return int(match["length"]) if match["length"].isdigit() else _NO_LENGTH


def _fault(match: re.Match[bytes]) -> str:
    """Why a line that looks like a frame is none; empty where it is one."""
    identifier, extended = int(match["identifier"], 16), len(match["identifier"]) == 8
    error = extended and identifier >> 29 == 1
    remote = match["tail"] == b"remote request"
    length, has = _length(match), len(_payload(match))
    faults = {
        "time stamp out of range": match["date"] and int(match["whole"]) >= 60,
        "identifier out of range": not error and identifier > (0x1FFFFFFF if extended else 0x7FF),
        "an error frame with the identifier of a data frame": match["tail"] == b"ERRORFRAME" and not error,
        "length out of range": length not in (LENGTHS if _is_fd(match) else LENGTHS[:9]),
        "a remote frame with data": remote and has,
        f"line is cut short: {has} of {length} data bytes": not remote and has < length,
        "more data than its length says": not remote and has > length,
    }
    return next((reason for reason, holds in faults.items() if holds), "")


def _payload(match: re.Match[bytes]) -> bytes:
    text, base = (match["bits"], 2) if match["bits"] else (match["data"] or b"", 16)
    swapped = b"`" in text
    data = bytes(int(byte, base) for byte in text.replace(b"`", b" ").split())
    return data[::-1] if swapped else data


def _frame(match: re.Match[bytes], line: bytes, time_ns: int | None, base_ns: int) -> Line:
    identifier, extended = int(match["identifier"], 16), len(match["identifier"]) == 8
    flags = SENT if match["way"] == b"TX" else 0
    if identifier >> 29:
        flags |= ERROR
    elif extended:
        flags |= EXTENDED
    if match["tail"] == b"remote request":
        flags |= REMOTE
    if _is_fd(match):
        flags |= FD | (BRS if match["brs"] == b"B" else 0) | (ESI if match["esi"] == b"E" else 0)
    plain = not (match["bits"] or _is_fd(match) or b"`" in (match["data"] or b""))
    return Line(
        time_ns=time_ns,
        channel=match["channel"].decode("ascii"),
        identifier=identifier & 0x1FFFFFFF,
        flags=flags,
        length=_length(match),
        payload=_payload(match),
        layout=partial(_layout, match, line, base_ns) if plain else None,
    )


def _layout(match: re.Match[bytes], line: bytes, base_ns: int) -> Layout:
    """The columns of this line; the date up to the minute is part of its fixed text."""
    timed = match["whole"] is not None
    return Layout(
        line,
        time=[match.span("whole"), match.span("fraction")] if timed else [],
        unit_ns=10 ** (9 - len(match["fraction"])) if timed else 1,
        base_ns=base_ns,
        below=60 * 10 ** len(match["fraction"]) if match["date"] else None,
        identifier=match.span("identifier"),
        data=match.span("data") if match["data"] else (0, 0),
        ignored=[match.span("text")] if match["text"] else [],
    )
