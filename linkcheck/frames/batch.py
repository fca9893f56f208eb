"""`FrameBatch`: frames as columns, the one currency between readers, live buses and analysers.

A batch is plain numpy arrays of equal length `n`, never objects per frame. Readers and live interfaces make them;
analysers eat them. Nothing here parses, counts bits or keeps state.

Classic payloads sit in `data` (n x 8). The rare CAN FD payload of more than 8 bytes sits in `wide_data`, one row per
entry of `wide_rows`; its first 8 bytes are in `data` as well.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

__all__ = ["BRS", "ERROR", "ESI", "EXTENDED", "FD", "REMOTE", "SENT", "FrameBatch"]

# Bits of the flags column.
EXTENDED = 1  # 29-bit identifier
REMOTE = 2  # remote frame: `length` is the length asked for, no data is sent
ERROR = 4  # error frame as SocketCAN reports it: `identifier` holds the class bits, `data` the eight detail bytes
FD = 8  # CAN FD frame
BRS = 16  # FD: data phase at the second bit rate
ESI = 32  # FD: sender is error-passive
SENT = 64  # sent by the recorder itself, where the format says so

WIDE = 64  # bytes of the longest CAN FD payload


@dataclass(frozen=True, slots=True, eq=False)
class FrameBatch:
    """Frames as columns, in the order they were recorded.

    Attributes:
        channels: names of the interfaces; grows at its end over the batches of one source, never reorders.
        time_ns: int64[n], nanoseconds since the epoch of the source (absolute or relative, as recorded).
        channel: uint8[n], index into `channels`.
        identifier: uint32[n], 11 or 29 bits; the class bits (without bit 29) for an error frame.
        flags: uint8[n], the bits above.
        length: uint8[n], data bytes (0-64), or the length asked for in a remote frame.
        data: uint8[n, 8], zero beyond `length` (all zero for a remote frame).
        wide_rows: int64[k], rows whose payload is longer than 8 bytes, ascending.
        wide_data: uint8[k, 64], their payloads, zero beyond `length`.

    """

    channels: tuple[str, ...]
    time_ns: npt.NDArray[np.int64]
    channel: npt.NDArray[np.uint8]
    identifier: npt.NDArray[np.uint32]
    flags: npt.NDArray[np.uint8]
    length: npt.NDArray[np.uint8]
    data: npt.NDArray[np.uint8]
    wide_rows: npt.NDArray[np.int64]
    wide_data: npt.NDArray[np.uint8]

    def __len__(self) -> int:
        return len(self.time_ns)

    @classmethod
    def from_rows(cls, rows: Sequence[tuple[int, int, int, int, int, bytes]], channels: tuple[str, ...]) -> FrameBatch:
        """Build a batch from rows of (time_ns, channel, identifier, flags, length, payload)."""
        n = len(rows)
        times, chans, idents, flags, lengths, payloads = zip(*rows, strict=True) if n else ((),) * 6
        data = np.zeros((n, 8), np.uint8)
        wide_rows = [i for i, payload in enumerate(payloads) if len(payload) > 8]
        wide_data = np.zeros((len(wide_rows), WIDE), np.uint8)
        if n:
            joined = b"".join(payload[:8].ljust(8, b"\0") for payload in payloads)
            data = np.frombuffer(joined, np.uint8).reshape(n, 8).copy()
        for k, i in enumerate(wide_rows):
            wide_data[k, : len(payloads[i])] = np.frombuffer(payloads[i], np.uint8)
        return cls(
            channels,
            np.array(times, np.int64),
            np.array(chans, np.uint8),
            np.array(idents, np.uint32),
            np.array(flags, np.uint8),
            np.array(lengths, np.uint8),
            data,
            np.array(wide_rows, np.int64),
            wide_data,
        )

    def payload(self, row: int) -> bytes:
        """Data bytes of one frame; empty for a remote frame."""
        if self.flags[row] & REMOTE:
            return b""
        n = int(self.length[row])
        if n <= 8:
            return self.data[row, :n].tobytes()
        k = int(np.searchsorted(self.wide_rows, row))
        return self.wide_data[k, :n].tobytes()

    def take(self, rows: slice | npt.NDArray[np.intp] | npt.NDArray[np.bool_]) -> FrameBatch:
        """The same frames, fewer or in another order; a slice makes views, everything else copies."""
        if len(self.wide_rows):
            picked = np.arange(len(self))[rows]
            place = np.searchsorted(self.wide_rows, picked)
            place[place == len(self.wide_rows)] = 0
            is_wide = self.wide_rows[place] == picked
            wide_rows, wide_data = np.flatnonzero(is_wide), self.wide_data[place[is_wide]]
        else:
            wide_rows, wide_data = self.wide_rows, self.wide_data
        return FrameBatch(
            self.channels,
            self.time_ns[rows],
            self.channel[rows],
            self.identifier[rows],
            self.flags[rows],
            self.length[rows],
            self.data[rows],
            wide_rows,
            wide_data,
        )
