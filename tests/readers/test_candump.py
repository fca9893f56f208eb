"""candump logs read back as written, line by line accounted for, whatever state they are in."""

from __future__ import annotations

import io

import pytest

from linkcheck.frames import BRS, ERROR, ESI, EXTENDED, FD, REMOTE, SENT
from linkcheck.readers.candump import open_candump

GOOD = [
    (b"(1436509052.249713) can0 18FEF100#0011", (1436509052249713000, 0x18FEF100, EXTENDED, 2, b"\x00\x11")),
    (b"(0.5) can0 123#", (500000000, 0x123, 0, 0, b"")),
    (b"(12) can0 7ff#aBcD\r", (12000000000, 0x7FF, 0, 2, b"\xab\xcd")),
    (b"  (12.) \t can0   7FF#aa.bb  ", (12000000000, 0x7FF, 0, 2, b"\xaa\xbb")),
    (b"(1.123456789123) can0 00000001#", (1123456789, 1, EXTENDED, 0, b"")),
    (b"(1.0) can0 20000004#0010000000000000", (10**9, 4, ERROR, 8, bytes([0, 16, 0, 0, 0, 0, 0, 0]))),
    (b"(1.0) can0 20000080#0000000000000000", (10**9, 0x80, ERROR, 8, bytes(8))),
    (b"(1.0) can0 123#R", (10**9, 0x123, REMOTE, 0, b"")),
    (b"(1.0) can0 123#R5", (10**9, 0x123, REMOTE, 5, b"")),
    (b"(1.0) can0 123#r8_d", (10**9, 0x123, REMOTE, 8, b"")),
    (b"(1.0) can0 123##0", (10**9, 0x123, FD, 0, b"")),
    (b"(1.0) can0 123##111", (10**9, 0x123, FD | BRS, 1, b"\x11")),
    (b"(1.0) can0 12345678##7" + b"5A" * 64, (10**9, 0x12345678, FD | BRS | ESI | EXTENDED, 64, b"\x5a" * 64)),
    (b"(1.0) can0 123#1122334455667788_B", (10**9, 0x123, 0, 8, bytes.fromhex("1122334455667788"))),
    (b"(1.0) can0 123#11 T", (10**9, 0x123, SENT, 1, b"\x11")),
    (b"(1.0) can0 123#11 R", (10**9, 0x123, 0, 1, b"\x11")),
]


@pytest.mark.parametrize(("line", "frame"), GOOD)
def test_legal_line(line, frame):
    log = open_candump("x", io.BytesIO(line + b"\n"))
    (batch,) = log.batches()
    assert log.tally.frames == log.tally.lines == 1
    got = batch.time_ns[0], batch.identifier[0], batch.flags[0], batch.length[0], batch.payload(0)
    assert got == frame
