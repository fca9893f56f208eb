"""Hypothesis strategies for frames and batches, shared by the tests."""

from __future__ import annotations

from hypothesis import strategies as st

from linkcheck.frames import BRS, ERROR, ESI, EXTENDED, FD, REMOTE, SENT, FrameBatch

FD_LENGTHS = (0, 1, 2, 3, 4, 5, 6, 7, 8, 12, 16, 20, 24, 32, 48, 64)
CHANNELS = ("can0", "can1", "a", "interface_num15")

# Runs make stuff bits; free bytes alone would hardly ever make two in a row.
_BYTES = st.one_of(st.sampled_from([0x00, 0xFF, 0x07, 0xE0, 0x1F, 0xF8, 0x0F, 0x78, 0x84]), st.integers(0, 255))


def payloads(lengths):
    return st.sampled_from(lengths).flatmap(lambda n: st.lists(_BYTES, min_size=n, max_size=n).map(bytes))


def identifiers(bits):
    return st.one_of(st.integers(0, 2**bits - 1), st.sampled_from([0, 1, 0x78, 2**bits - 1, 2 ** (bits - 5) - 1]))


@st.composite
def rows(draw, times, kinds=("data", "remote", "error", "fd")):
    """A row for FrameBatch.from_rows."""
    kind = draw(st.sampled_from(kinds))
    extended = draw(st.booleans())
    identifier = draw(identifiers(29 if extended else 11))
    flags = (EXTENDED if extended else 0) | (SENT if draw(st.booleans()) else 0)
    payload = draw(payloads(FD_LENGTHS if kind == "fd" else range(9)))
    length = len(payload)
    if kind == "remote":
        flags, payload = flags | REMOTE, b""
    elif kind == "error":
        flags = flags & ~EXTENDED | ERROR
    elif kind == "fd":
        flags |= FD | draw(st.sampled_from([0, BRS, ESI, BRS | ESI]))
    return draw(times), draw(st.integers(0, len(CHANNELS) - 1)), identifier, flags, length, payload


def batches(times, max_size=40, **how):
    return st.lists(rows(times, **how), max_size=max_size).map(lambda some: FrameBatch.from_rows(some, CHANNELS))


def same(one, other):
    """Whether two batches hold the same frames, field by field."""
    names = ("time_ns", "channel", "identifier", "flags", "length", "data", "wide_rows", "wide_data")
    return all((getattr(one, name) == getattr(other, name)).all() for name in names) and len(one) == len(other)
