"""What is sent on the bench: frames of every kind, and frames that carry a number.

A numbered frame holds a tag of its run, a sequence number and the complement of both, so that a changed byte, a frame
of another run and a frame that was never sent are told apart. All chance comes from a seed.
"""

from __future__ import annotations

import random
from collections.abc import Iterator, Sequence
from typing import NamedTuple

from linkcheck.frames import EXTENDED, REMOTE, FrameBatch, wire_bits

__all__ = ["BenchFrame", "bits_of", "every_kind", "number_of", "numbered"]

_TOP = 1 << 24


class BenchFrame(NamedTuple):
    """One frame: flags as in `FrameBatch`; `length` is what a remote frame asks for, else the payload's."""

    identifier: int
    flags: int
    length: int
    payload: bytes

    @property
    def words(self) -> str:
        """As it is written in a log: identifier, then length and data."""
        digits = 8 if self.flags & EXTENDED else 3
        data = f"R{self.length}" if self.flags & REMOTE else self.payload.hex(" ").upper()
        return f"{self.identifier:0{digits}X} [{self.length}] {data}".rstrip()


def every_kind(seed: int, repeats: int) -> list[BenchFrame]:
    """11 and 29 bits, lengths 0 to 8, data and remote, with random identifiers and bytes, in random order."""
    chance = random.Random(seed)  # noqa: S311  # test data, not secrets
    frames = []
    for kind in (0, EXTENDED, REMOTE, EXTENDED | REMOTE):
        limit = 0x1FFFFFFF if kind & EXTENDED else 0x7FF
        for length in range(9):
            for _ in range(repeats):
                payload = b"" if kind & REMOTE else chance.randbytes(length)
                frames.append(BenchFrame(chance.randint(0, limit), kind, length, payload))
    chance.shuffle(frames)
    return frames


def numbered(run: int, count: int, *, first: int = 0) -> Iterator[BenchFrame]:
    """Frames of 8 bytes that carry their number, from `first` on.

    One 29-bit identifier for all: controllers may send what waits by priority, so only frames of one identifier can be
    expected in order.
    """
    identifier = random.Random(run).randint(0, 0x1FFFFFFF)  # noqa: S311
    for number in range(first, first + count):
        head = bytes([run & 0xFF]) + (number % _TOP).to_bytes(3, "little")
        yield BenchFrame(identifier, EXTENDED, 8, head + bytes(byte ^ 0xFF for byte in head))


def number_of(run: int, frame: BenchFrame) -> int | None:
    """The number a frame carries; None where it is damaged, or of no such run."""
    head, tail = frame.payload[:4], frame.payload[4:]
    if len(frame.payload) != 8 or head[0] != run & 0xFF or bytes(byte ^ 0xFF for byte in head) != tail:
        return None
    return int.from_bytes(head[1:], "little")


def bits_of(frames: Sequence[BenchFrame]) -> int:
    """Bits the frames take on the wire, stuff bits and interframe space included."""
    rows = [(0, 0, frame.identifier, frame.flags, frame.length, frame.payload) for frame in frames]
    return int(wire_bits(FrameBatch.from_rows(rows, ("bench",))).sum()) if rows else 0
