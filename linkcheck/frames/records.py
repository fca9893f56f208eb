"""Frames as packed records: how they cross from one process to another.

One record has a fixed size, whatever the frame; the flags are those of `FrameBatch`. No meaning is added here.
"""

from __future__ import annotations

import struct

import numpy as np

from linkcheck.frames.batch import REMOTE, FrameBatch

__all__ = ["RECORD", "RECORD_FORMAT", "batch_of"]

# time_ns, identifier, flags, channel, length, payload
RECORD_FORMAT = struct.Struct("<qIBBBx64s")
RECORD = np.dtype(
    [
        ("time_ns", "<i8"),
        ("identifier", "<u4"),
        ("flags", "u1"),
        ("channel", "u1"),
        ("length", "u1"),
        ("_", "u1"),
        ("data", "u1", 64),
    ]
)


def batch_of(body: bytes | bytearray | memoryview, channels: tuple[str, ...]) -> FrameBatch:
    """The frames of packed records, in their order.

    Args:
        body: whole records, `RECORD_FORMAT` each.
        channels: names for the records' channel numbers.

    """
    records = np.frombuffer(bytes(body), RECORD)  # a view would hold a growing bytearray fast
    wide = np.flatnonzero((records["length"] > 8) & (records["flags"] & REMOTE == 0))
    return FrameBatch(
        channels,
        records["time_ns"].astype(np.int64),
        records["channel"].copy(),
        records["identifier"].astype(np.uint32),
        records["flags"].copy(),
        records["length"].copy(),
        np.ascontiguousarray(records["data"][:, :8]),
        wide,
        records["data"][wide],
    )
