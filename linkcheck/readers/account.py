"""`Account`: what the child process has read so far, kept exactly and sent to the parent in batches.

The messages are those of `python_can`. A `can.Message` becomes a record here, or a reason why it cannot.
"""

from __future__ import annotations

import json
import time
from collections.abc import Callable

import can

from linkcheck.frames import BRS, ERROR, ESI, EXTENDED, FD, REMOTE, SENT
from linkcheck.frames.fd import LENGTHS
from linkcheck.frames.records import RECORD_FORMAT
from linkcheck.readers.capture import KEPT_SKIPS
from linkcheck.readers.controller import BUS_ERROR, LAST_CLASS
from linkcheck.readers.layout import MAX_CHANNELS
from linkcheck.readers.python_can import FRAMES, NEWS
from linkcheck.readers.source import Source

__all__ = ["Account", "Fields"]

BATCH_FRAMES = 8192
FLUSH_S = 0.5
_FINE_S = 1e6  # beyond this a float of seconds carries microseconds at best

Fields = tuple[int, int, int, int, bytes]  # time_ns, identifier, flags, length, data


class Account:
    """The account of one file.

    Args:
        send: takes a kind and a body of `python_can` messages.

    Attributes:
        lines, frames, skipped, comments: as in `Tally`. error: why reading ended early, or empty.
        notes: sentences not yet sent. source: the opened file. progress: share read, where that file does not tell.

    """

    def __init__(self, send: Callable[[bytes, bytes], None]) -> None:
        self._send = send
        self.lines = self.frames = self.skipped = self.comments = 0
        self.error = ""
        self.notes: list[str] = []
        self.source: Source | None = None
        self.progress: float | None = None
        self._skips: list[tuple[int, str]] = []
        self._new_channels: list[str] = []
        self._channels: dict[str, int] = {}
        self._records = bytearray()
        self._kept = 0
        self._due = time.monotonic() + FLUSH_S

    def skip(self, reason: str) -> None:
        """Count the last line as one that gave no frame."""
        self.skipped += 1
        if self._kept < KEPT_SKIPS:
            self._kept += 1
            self._skips.append((self.lines, reason))
        self.tick()

    def frame(self, channel: str, fields: Fields) -> str:
        """Send one frame on. Returns why it cannot be sent, or an empty text."""
        if channel not in self._channels:
            if len(self._channels) >= MAX_CHANNELS:
                return f"more than {MAX_CHANNELS} interfaces in one file"
            self._channels[channel] = len(self._channels)
            self._new_channels.append(channel)
        time_ns, identifier, flags, length, data = fields
        self._records += RECORD_FORMAT.pack(time_ns, identifier, flags, self._channels[channel], length, data)
        self.frames += 1
        if len(self._records) >= BATCH_FRAMES * RECORD_FORMAT.size:
            self.flush()
        self.tick()
        return ""

    def tick(self) -> None:
        """Show the parent that reading goes on; to be called now and then where no frames come."""
        if time.monotonic() >= self._due:
            self.flush()

    def message(self, channel: str, message: can.Message) -> str:
        """Send a message on. Returns why it cannot be used, or an empty text."""
        try:
            fields = _fields(message)
        except (TypeError, ValueError, OverflowError) as error:
            return f"a frame that makes no sense: {error}"
        return self.frame(channel, fields)

    def flush(self, *, ended: bool = False) -> None:
        """Send what has gathered."""
        if ended and self.source:
            self.notes += self.source.notes
        news = {
            "lines": self.lines,
            "skipped": self.skipped,
            "comments": self.comments,
            "skips": self._skips,
            "notes": self.notes,
            "channels": self._new_channels,
            "progress": self.source.progress if self.progress is None and self.source else self.progress,
            "error": self.error,
            "ended": ended,
        }
        self._send(NEWS, json.dumps(news).encode())
        if self._records:
            self._send(FRAMES, bytes(self._records))
        self._records.clear()
        self._skips, self.notes, self._new_channels = [], [], []
        self._due = time.monotonic() + FLUSH_S


def _fields(message: can.Message) -> Fields:
    """A message as a record.

    Raises:
        ValueError, TypeError, OverflowError: it is no frame that can be.

    """
    time_s = message.timestamp
    time_ns = round(time_s * 1e6) * 1000 if abs(time_s) >= _FINE_S else round(time_s * 1e9)
    if not -(1 << 63) <= time_ns < 1 << 63:
        raise ValueError("time stamp out of range")
    identifier, length, data = int(message.arbitration_id), int(message.dlc), bytes(message.data)
    sent = 0 if message.is_rx else SENT
    if message.is_error_frame:
        # python-can hands on SocketCAN's class bits and eight bytes where it recorded them.
        known = 0 < identifier < 2 * LAST_CLASS and len(data) == 8
        return time_ns, identifier if known else BUS_ERROR, ERROR | sent, 8, data if known else bytes(8)
    flags = sent | (EXTENDED if message.is_extended_id else 0)
    if not 0 <= identifier <= (0x1FFFFFFF if message.is_extended_id else 0x7FF):
        raise ValueError("identifier out of range")
    if message.is_fd and not message.is_remote_frame:
        flags |= FD | (BRS if message.bitrate_switch else 0) | (ESI if message.error_state_indicator else 0)
    elif 8 < length <= 15:
        length = 8  # a raw length code above 8 still stands for 8 bytes
    if length not in (LENGTHS if flags & FD else LENGTHS[:9]):
        raise ValueError("length out of range")
    if message.is_remote_frame:
        return time_ns, identifier, flags | REMOTE, length, b""
    if len(data) != length:
        raise ValueError(f"{len(data)} data bytes where its length says {length}")
    return time_ns, identifier, flags, length, data
