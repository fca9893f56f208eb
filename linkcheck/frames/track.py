"""`Tracker`: what every analyser wants to know about a frame, worked out once, as columns beside the batch.

Bits on the wire, a dense index of who this is (channel, identifier, kind), and the time since that one, since its
sender, and since anything at all was heard last. Every source goes through here, file or live, so results do not depend
on where a frame came from, nor on where one batch ends and the next begins.

The kernel keeps its state in arrays owned by the tracker; the twin below keeps the same state in dictionaries.
"""

from __future__ import annotations

from dataclasses import dataclass
from types import ModuleType
from typing import Any, TypeAlias

import numpy as np
import numpy.typing as npt

from linkcheck.frames.batch import ERROR, EXTENDED, REMOTE, FrameBatch
from linkcheck.frames.bits import count_bits
from linkcheck.frames.kernel import pick_kernel

__all__ = ["Marks", "Tracker", "wire_bits"]

MAX_KEYS = 65536
_KIND = EXTENDED | REMOTE | ERROR  # the flags that make a key
_LONGEST_GAP = 2**63 - 1


@dataclass(frozen=True, slots=True, eq=False)
class Marks:
    """What the tracker says about the n frames of one batch.

    Attributes:
        wire_bits: uint16[n], start of frame to end of interframe space; 0 for an error frame.
        dominant_bits: uint16[n], how many of them are dominant.
        key: uint32[n], index into the tracker's key tables.
        gap_ns: int64[n], since the key's previous frame; -1 for its first, 0 where time went back.
        source_gap_ns: int64[n], since the previous 29-bit frame of the same channel and source address; -1 for the
            first and for frames that are not 29-bit, or errors.
        bus_gap_ns: int64[n], since the previous frame on that channel that is not an error frame; -1 for the first.
        fast_bits: uint16[n], bits at the second bit rate of FD frames with BRS; None when there is no such frame.

    """

    wire_bits: npt.NDArray[np.uint16]
    dominant_bits: npt.NDArray[np.uint16]
    key: npt.NDArray[np.uint32]
    gap_ns: npt.NDArray[np.int64]
    source_gap_ns: npt.NDArray[np.int64]
    bus_gap_ns: npt.NDArray[np.int64]
    fast_bits: npt.NDArray[np.uint16] | None


class Tracker:
    """Marks the frames of one source, batch after batch.

    Args:
        max_keys: how many keys are told apart, at least 1; whatever comes once that many are known shares the last.
        kernel: False for the twin, True for the kernel or an error, None for the kernel if there is one.

    """

    def __init__(self, max_keys: int = MAX_KEYS, *, kernel: bool | None = None) -> None:
        module = pick_kernel(kernel)
        self._inside = _Twin(max_keys) if module is None else _Compiled(module, max_keys)

    def annotate(self, batch: FrameBatch) -> Marks:
        """Mark the frames of the next batch."""
        return self._inside.annotate(batch)

    def forget(self) -> None:
        """Forget all times, because the clock restarted: every next frame is a first one. Keys are kept."""
        self._inside.forget()

    def __len__(self) -> int:
        return len(self.key_channel)

    @property
    def key_channel(self) -> npt.NDArray[np.uint8]:
        """Channel of each key so far, in order of first appearance."""
        return self._inside.key_tables()[0]

    @property
    def key_identifier(self) -> npt.NDArray[np.uint32]:
        """Identifier of each key so far (class bits for error frames)."""
        return self._inside.key_tables()[1]

    @property
    def key_flags(self) -> npt.NDArray[np.uint8]:
        """EXTENDED, REMOTE and ERROR of each key so far."""
        return self._inside.key_tables()[2]


def wire_bits(batch: FrameBatch) -> npt.NDArray[np.uint16]:
    """Exact bits on the wire of each frame, interframe space included."""
    return Tracker().annotate(batch).wire_bits


_Tables: TypeAlias = tuple[npt.NDArray[np.uint8], npt.NDArray[np.uint32], npt.NDArray[np.uint8]]


class _Compiled:
    """The tracker's state as the kernel wants it; layout of a key's entry in _wire.h."""

    _KEY = np.dtype(
        [
            ("code", np.uint64),
            ("last_ns", np.int64),
            ("index", np.uint32),
            ("steps", np.uint32),
            ("crc", np.uint32),
            ("unused", np.uint32),
        ]
    )
    _FIRST_SLOTS = 1024
    _UNKNOWN = np.iinfo(np.int64).min

    def __init__(self, kernel: ModuleType, max_keys: int) -> None:
        self._kernel = kernel
        self._max_keys = max_keys
        self._table = np.zeros(self._FIRST_SLOTS, self._KEY)
        self._shared = np.zeros(1, self._KEY)
        self._source_last = np.empty(256 * 256, np.int64)
        self._bus_last = np.empty(256, np.int64)
        self._key_channel = np.zeros(max_keys, np.uint8)
        self._key_identifier = np.zeros(max_keys, np.uint32)
        self._key_flags = np.zeros(max_keys, np.uint8)
        self._count = 0
        self.forget()

    def forget(self) -> None:
        for last in (self._table["last_ns"], self._shared["last_ns"], self._source_last, self._bus_last):
            last[:] = self._UNKNOWN

    def key_tables(self) -> _Tables:
        n = self._count
        return self._key_channel[:n], self._key_identifier[:n], self._key_flags[:n]

    def annotate(self, batch: FrameBatch) -> Marks:
        n, row, any_fast = len(batch), 0, 0
        wire, dominant, fast = (np.empty(n, np.uint16) for _ in range(3))
        key = np.empty(n, np.uint32)
        gap, source_gap, bus_gap = (np.empty(n, np.int64) for _ in range(3))
        columns = (
            _plain(batch.time_ns, np.int64),
            _plain(batch.channel, np.uint8),
            _plain(batch.identifier, np.uint32),
            _plain(batch.flags, np.uint8),
            _plain(batch.length, np.uint8),
            _plain(batch.data, np.uint8),
            _plain(batch.wide_rows, np.int64),
            _plain(batch.wide_data, np.uint8),
        )
        marks = (wire, dominant, fast, key, gap, source_gap, bus_gap)
        while row < n:
            state = (
                self._table,
                self._shared,
                self._source_last,
                self._bus_last,
                self._key_channel,
                self._key_flags,
                self._key_identifier,
            )
            row, self._count, more = self._kernel.annotate(
                row, n, len(batch.wide_rows), *columns, *marks, *state, self._count, self._max_keys
            )
            any_fast |= more
            if row < n:
                self._grow()
        return Marks(wire, dominant, key, gap, source_gap, bus_gap, fast if any_fast else None)

    def _grow(self) -> None:
        table = np.zeros(4 * len(self._table), self._KEY)
        table["last_ns"] = self._UNKNOWN
        self._kernel.move_keys(self._table, table)
        self._table = table


def _plain(column: npt.NDArray[Any], dtype: type) -> npt.NDArray[Any]:
    """The column as C wants it: of that type, contiguous and aligned; copied only if it is not so already."""
    return np.require(column, dtype, ["C", "A"])


class _Twin:
    """The tracker in plain Python, frame by frame."""

    def __init__(self, max_keys: int) -> None:
        self.keys: list[tuple[int, int, int]] = []  # channel, identifier, flags
        self._max_keys = max_keys
        self._index: dict[tuple[int, int, int], int] = {}
        self.forget()

    def forget(self) -> None:
        self._key_last: dict[int, int] = {}
        self._source_last: dict[tuple[int, int], int] = {}
        self._bus_last: dict[int, int] = {}

    def key_tables(self) -> _Tables:
        channel, identifier, flags = zip(*self.keys, strict=True) if self.keys else ((), (), ())
        return np.array(channel, np.uint8), np.array(identifier, np.uint32), np.array(flags, np.uint8)

    def annotate(self, batch: FrameBatch) -> Marks:
        rows = zip(
            batch.time_ns.tolist(),
            batch.channel.tolist(),
            batch.identifier.tolist(),
            batch.flags.tolist(),
            strict=True,
        )
        marked = [self._mark(*row) for row in rows]
        key, gap, source_gap, bus_gap = zip(*marked, strict=True) if marked else ((), (), (), ())
        bits = count_bits(batch)
        return Marks(
            bits.wire,
            bits.dominant,
            np.array(key, np.uint32),
            np.array(gap, np.int64),
            np.array(source_gap, np.int64),
            np.array(bus_gap, np.int64),
            bits.fast,
        )

    def _mark(self, time_ns: int, channel: int, identifier: int, flags: int) -> tuple[int, int, int, int]:
        key = self._key(channel, identifier, flags & _KIND)
        gap = _since(self._key_last.get(key), time_ns)
        self._key_last[key] = time_ns
        bus_gap, source_gap = _since(self._bus_last.get(channel), time_ns), -1
        if not flags & ERROR:
            self._bus_last[channel] = time_ns
            if flags & EXTENDED:
                source = (channel, identifier & 0xFF)
                source_gap = _since(self._source_last.get(source), time_ns)
                self._source_last[source] = time_ns
        return key, gap, source_gap, bus_gap

    def _key(self, channel: int, identifier: int, kind: int) -> int:
        whole = (channel, identifier, kind)
        key = self._index.get(whole)
        if key is None:
            key = min(len(self.keys), self._max_keys - 1)
            if len(self.keys) < self._max_keys:
                self.keys.append(whole)
                self._index[whole] = key
        return key


def _since(last: int | None, now: int) -> int:
    return -1 if last is None else min(max(now - last, 0), _LONGEST_GAP)
