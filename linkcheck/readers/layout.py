"""Lines of one layout, read as columns of a character matrix instead of one by one.

Recorders that print text write the same layout over and over: time, identifier and data change, all else stays. A
reader parses one line with care and says which columns hold what (`Layout`); every other line with the same fixed
text at the same places is then decoded in a few numpy steps. Lines that do not fit exactly are left to the careful
parser, so a layout never makes a damaged line pass. No format is named here.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from linkcheck.frames import FrameBatch
from linkcheck.readers.lines import Block

__all__ = ["NO_CHANNEL", "Columns", "Layout", "Line", "read_block"]

MAX_LAYOUTS = 100  # tried per block; what is left is parsed line by line
WORTH = 20  # lines of one width that make a layout worth its making
NO_CHANNEL = "1"  # name of the only channel of a recording that names none
MAX_CHANNELS = 256  # a FrameBatch counts them in a byte
_MAX_DIGITS = 18  # of a time stamp: more would not fit into 64 bits
_STANDARD_MAX, _STANDARD_DIGITS = 0x7FF, 4  # an identifier written with more digits is a 29-bit one

_NOT_HEX = 255
_HEX = np.full(256, _NOT_HEX, np.uint8)
for _digits in (b"0123456789ABCDEF", b"0123456789abcdef"):
    _HEX[list(_digits)] = np.arange(16)

Span = tuple[int, int]


@dataclass(frozen=True, slots=True)
class Line:
    """What one line says: a frame, a remark (`comment`), or nothing usable (`reason`).

    Attributes:
        time_ns: None where the line carries no time; given for a skipped line too if it can be read.
        dropped: frames the recorder says it lost. layout: makes what reads more lines of the same build.

    """

    reason: str = ""
    comment: bool = False
    time_ns: int | None = None
    channel: str = ""
    identifier: int = 0
    flags: int = 0
    length: int = 0
    payload: bytes = b""
    dropped: int = 0
    layout: Callable[[], Layout] | None = None


class Layout:
    """The columns of one build of line.

    Args:
        line: the sample.
        time: the spans of its digits, most significant first; if it begins with a blank, blanks may lead in others.
        unit_ns: what the last digit counts. base_ns: added to it. below: the digits must count less than this.
        identifier: span of the hexadecimal identifier; bits above the 29th must be those of the sample.
        data: span of the data, two hexadecimal digits a byte, one character between bytes.
        ignored: spans that may hold anything.

    """

    def __init__(
        self,
        line: bytes,
        *,
        time: Sequence[Span],
        unit_ns: int,
        identifier: Span,
        data: Span,
        base_ns: int = 0,
        below: int | None = None,
        ignored: Sequence[Span] = (),
    ) -> None:
        self.template = np.frombuffer(line, np.uint8)
        self.time = np.array([i for span in time for i in range(*span)], np.int64)
        self.blanks = len(self.time) > 0 and line[self.time[0]] == ord(" ")
        self.weights = 10 ** np.arange(len(self.time) - 1, -1, -1, dtype=np.int64)
        self.unit_ns, self.base_ns, self.below = unit_ns, base_ns, below
        self.identifier = np.arange(*identifier)
        self.standard = identifier[1] - identifier[0] <= _STANDARD_DIGITS
        self.top = int(line[slice(*identifier)], 16) >> 29
        self.high = np.arange(data[0], data[1], 3)
        open_columns = [*self.time, *self.identifier, *self.high, *(self.high + 1)]
        open_columns += [i for span in ignored for i in range(*span)]
        self.fixed = np.setdiff1d(np.arange(len(line)), open_columns)
        self.usable = len(self.time) <= _MAX_DIGITS and len(self.high) <= 8

    def read(self, chars: npt.NDArray[np.uint8]) -> _Read:
        """Decode lines (uint8[n, width]) of this width; `fits` says which of them are of this build."""
        fits = (chars[:, self.fixed] == self.template[self.fixed]).all(axis=1)
        time_ns = self._times(chars, fits)
        identifier = np.zeros(len(chars), np.uint32)
        for column in _HEX[chars[:, self.identifier]].T:
            fits &= column != _NOT_HEX
            identifier = (identifier << np.uint32(4)) | column
        fits &= identifier >> np.uint32(29) == self.top
        if self.standard:
            fits &= identifier <= _STANDARD_MAX
        high, low = _HEX[chars[:, self.high]], _HEX[chars[:, self.high + 1]]
        fits &= ((high != _NOT_HEX) & (low != _NOT_HEX)).all(axis=1)
        return _Read(fits, time_ns, identifier & np.uint32(0x1FFFFFFF), high << np.uint8(4) | low)

    def _times(self, chars: npt.NDArray[np.uint8], fits: npt.NDArray[np.bool_]) -> npt.NDArray[np.int64]:
        digits = chars[:, self.time] - np.uint8(ord("0"))
        known = digits <= 9
        if self.blanks:
            fits &= (known | (chars[:, self.time] == ord(" "))).all(axis=1) & known[:, -1]
            fits &= (known[:, 1:] >= known[:, :-1]).all(axis=1)
        else:
            fits &= known.all(axis=1)
        count = np.where(known, digits, 0) @ self.weights
        if self.below is not None:
            fits &= count < self.below
        return np.asarray(count * self.unit_ns + self.base_ns, np.int64)


@dataclass(frozen=True, slots=True, eq=False)
class _Read:
    fits: npt.NDArray[np.bool_]
    time_ns: npt.NDArray[np.int64]
    identifier: npt.NDArray[np.uint32]
    data: npt.NDArray[np.uint8]


@dataclass(slots=True, eq=False)
class Columns:
    """The lines of one block as columns, one row a line; `kept` marks those that hold a frame."""

    rows: int
    time_ns: npt.NDArray[np.int64] = field(init=False)
    timed: npt.NDArray[np.bool_] = field(init=False)
    kept: npt.NDArray[np.bool_] = field(init=False)
    channel: npt.NDArray[np.uint8] = field(init=False)
    identifier: npt.NDArray[np.uint32] = field(init=False)
    flags: npt.NDArray[np.uint8] = field(init=False)
    length: npt.NDArray[np.uint8] = field(init=False)
    data: npt.NDArray[np.uint8] = field(init=False)
    wide: dict[int, bytes] = field(default_factory=dict)
    skips: dict[int, str] = field(default_factory=dict)
    comments: int = 0
    dropped: int = 0

    def __post_init__(self) -> None:
        n = self.rows
        self.time_ns, self.timed, self.kept = np.zeros(n, np.int64), np.zeros(n, np.bool_), np.zeros(n, np.bool_)
        self.channel, self.flags, self.length = (np.zeros(n, np.uint8) for _ in range(3))
        self.identifier, self.data = np.zeros(n, np.uint32), np.zeros((n, 8), np.uint8)

    def put(self, i: int, line: Line, channels: list[str]) -> None:
        """Enter one parsed line."""
        self.comments += line.comment
        self.dropped += line.dropped
        if line.time_ns is not None:
            self.time_ns[i], self.timed[i] = line.time_ns, True
        if line.comment:
            return
        reason = line.reason or _place(line.channel, channels)
        if reason:
            self.skips[i] = reason
            return
        self.kept[i] = True
        self.channel[i] = channels.index(line.channel)
        self.identifier[i], self.flags[i], self.length[i] = line.identifier, line.flags, line.length
        self.data[i, : min(8, len(line.payload))] = np.frombuffer(line.payload[:8], np.uint8)
        if len(line.payload) > 8:
            self.wide[i] = line.payload

    def refuse(self, rows: npt.NDArray[np.bool_], reason: str) -> None:
        """Turn kept rows into skipped ones."""
        for i in np.flatnonzero(rows & self.kept):
            self.kept[i] = False
            self.skips[int(i)] = reason

    def batch(self, channels: list[str]) -> FrameBatch:
        """The kept rows."""
        keep = self.kept
        place = np.cumsum(keep) - 1
        wide = [(int(place[i]), payload) for i, payload in sorted(self.wide.items()) if keep[i]]
        wide_data = np.zeros((len(wide), 64), np.uint8)
        for k, (_, payload) in enumerate(wide):
            wide_data[k, : len(payload)] = np.frombuffer(payload, np.uint8)
        return FrameBatch(
            tuple(channels),
            self.time_ns[keep],
            self.channel[keep],
            self.identifier[keep],
            self.flags[keep],
            self.length[keep],
            self.data[keep],
            np.array([i for i, _ in wide], np.int64),
            wide_data,
        )


def _place(name: str, channels: list[str]) -> str:
    """Enter a channel's name; an empty text, or why it cannot be entered."""
    if name not in channels:
        if len(channels) >= MAX_CHANNELS:
            return f"more than {MAX_CHANNELS} interfaces in one file"
        channels.append(name)
    return ""


def read_block(block: Block, parse: Callable[[bytes], Line], channels: list[str]) -> Columns:
    """Read every line of a block; `channels` grows with the names met."""
    columns = Columns(len(block))
    widths = block.ends - block.starts
    chars = np.frombuffer(block.data, np.uint8)
    pending, layouts = np.arange(len(block)), 0
    while len(pending):
        i = int(pending[0])
        line = parse(block.line(i))
        columns.put(i, line, channels)
        pending = pending[1:]
        if line.layout is None or not columns.kept[i] or layouts >= MAX_LAYOUTS:
            continue
        same = pending[widths[pending] == widths[i]]
        if len(same) < WORTH:
            continue
        layouts += 1
        layout = line.layout()
        if not layout.usable:
            continue
        read = layout.read(chars[block.starts[same][:, None] + np.arange(widths[i])])
        rows = same[read.fits]
        columns.kept[rows] = True
        columns.time_ns[rows] = read.time_ns[read.fits]
        columns.timed[rows] = line.time_ns is not None
        columns.channel[rows] = columns.channel[i]
        columns.identifier[rows] = read.identifier[read.fits]
        columns.flags[rows], columns.length[rows] = line.flags, line.length
        columns.data[rows[:, None], np.arange(read.data.shape[1])] = read.data[read.fits]
        pending = pending[~columns.kept[pending]]
    return columns
