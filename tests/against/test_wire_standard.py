"""Wire length against routines written apart from ours, frame by frame, for kernel and twin."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from frame_strategies import FD_LENGTHS, identifiers, payloads
from hypothesis import given, settings
from hypothesis import strategies as st
from wire_fd_reference import fd_frame
from wire_reference import frame_bits

from linkcheck.frames import BRS, ESI, EXTENDED, FD, REMOTE, FrameBatch, Tracker
from linkcheck.frames.bits import crc15
from linkcheck.frames.kernel import KERNEL

DATA = Path(__file__).parent.parent / "data"
SIDES = [False, pytest.param(True, marks=pytest.mark.skipif(not KERNEL, reason="the kernel is not built here"))]
pytestmark = pytest.mark.parametrize("kernel", SIDES)


def marks(rows, kernel):
    return Tracker(kernel=kernel).annotate(FrameBatch.from_rows(rows, ("can0",)))


def row(identifier, flags, data=b"", length=None):
    return (0, 0, identifier, flags, len(data) if length is None else length, data)


@settings(max_examples=300, deadline=None)
@given(data=st.data())
def test_classic_frame_has_the_bits_of_the_standard(kernel, data):
    extended, remote = data.draw(st.booleans()), data.draw(st.booleans())
    identifier = data.draw(identifiers(29 if extended else 11))
    payload = data.draw(payloads(range(9)))
    sent = b"" if remote else payload
    flags = (EXTENDED if extended else 0) | (REMOTE if remote else 0)
    bits = frame_bits(identifier, sent, extended=extended, remote=remote, length=len(payload))
    got = marks([row(identifier, flags, sent, len(payload))], kernel)
    assert (got.wire_bits[0], got.dominant_bits[0]) == (len(bits), bits.count(0))
    assert got.fast_bits is None


@settings(max_examples=300, deadline=None)
@given(data=st.data())
def test_fd_frame_has_the_bits_of_the_standard(kernel, data):
    extended, brs, esi = (data.draw(st.booleans()) for _ in range(3))
    identifier = data.draw(identifiers(29 if extended else 11))
    payload = data.draw(payloads(FD_LENGTHS))
    flags = FD | (EXTENDED if extended else 0) | (BRS if brs else 0) | (ESI if esi else 0)
    bits = fd_frame(identifier, payload, extended=extended, brs=brs, esi=esi)
    got = marks([row(identifier, flags, payload)], kernel)
    assert (got.wire_bits[0], got.dominant_bits[0]) == (len(bits), bits.count("0") + bits.count("O"))
    assert (got.fast_bits is not None) == brs
    assert not brs or got.fast_bits[0] == bits.count("O") + bits.count("I")


def test_shortest_and_longest_frames_that_exist(kernel):
    # Exact search over CRC and stuffing states: no frame of each kind is shorter or longer than these.
    for vector in json.loads((DATA / "wire-vectors.json").read_text()):
        flags = (EXTENDED if vector["ext"] else 0) | (REMOTE if vector["rtr"] else 0)
        for end in ("min", "max"):
            data = bytes.fromhex(vector[f"{end}_data"])
            got = marks([row(int(vector[f"{end}_id"], 16), flags, data, vector["dlc"])], kernel)
            assert got.wire_bits[0] == vector[end], (vector, end)


def test_fd_frames_of_a_published_generator(kernel):
    # Computed once with the open CAN FD frame generator of the repository codes-can, commit 7f465752.
    for vector in json.loads((DATA / "fd-vectors.json").read_text()):
        flags = FD | EXTENDED * vector["extended"] | BRS * vector["brs"] | ESI * vector["esi"]
        got = marks([row(int(vector["identifier"], 16), flags, bytes.fromhex(vector["data"]))], kernel)
        assert (got.wire_bits[0], got.dominant_bits[0]) == (vector["wire"], vector["dominant"]), vector
        assert (0 if got.fast_bits is None else got.fast_bits[0]) == vector["fast"], vector


# Two independent programs agree on these: can-utils' canframelen and a bit-list builder.
KNOWN = [
    ("0CF00400", "F87D7D000000FF7D", 144, 0x14AD),
    ("18FECA00", "FFFF00000000FFFF", 147, 0x00E7),
    ("18FEF100", "03560A789FB509F0", 140, 0x40B3),
    ("1CECFF00", "20BE001CFFCAFE00", 143, 0x49C8),
    ("18EEFF00", "0603BF0100000010", 144, 0x5914),
    ("18EA0FF9", "EBFE00", 99, 0x2B8E),
    ("123", "", 48, 0x6858),
    ("123", "00" * 8, 125, 0x044E),
    ("7FF", "FF" * 8, 126, 0x4C89),
    ("00000000", "00" * 8, 150, 0x3DAF),
]


@pytest.mark.parametrize(("identifier", "data", "bits", "checksum"), KNOWN)
def test_known_frame(kernel, identifier, data, bits, checksum):
    number, flags, payload = int(identifier, 16), EXTENDED if len(identifier) == 8 else 0, bytes.fromhex(data)
    assert marks([row(number, flags, payload)], kernel).wire_bits[0] == bits
    assert crc15(number, flags, len(payload), payload) == checksum


@settings(max_examples=200, deadline=None)
@given(data=st.data())
def test_published_worst_case_is_never_exceeded(kernel, data):
    # Davis, Burns, Bril, Lukkien, Real-Time Systems 35 (2007): 55 + 10 n bits (11-bit), 80 + 10 n bits (29-bit).
    extended = data.draw(st.booleans())
    identifier = data.draw(identifiers(29 if extended else 11))
    payload = data.draw(payloads(range(9)))
    got = marks([row(identifier, EXTENDED if extended else 0, payload)], kernel)
    assert got.wire_bits[0] <= (80 if extended else 55) + 10 * len(payload)


def test_remote_frame_is_as_long_whatever_length_it_asks_for(kernel):
    # Remote frames carry no data field (ISO 11898-1); only stuffing around the length code differs.
    rows = [row(0x18EA00F9, EXTENDED | REMOTE, b"", length) for length in range(9)]
    assert marks(rows, kernel).wire_bits.max() <= 67 + 10


def test_error_frame_counts_no_bits(kernel):
    got = marks([(0, 0, 0x20, 4, 8, bytes(8))], kernel)
    assert (got.wire_bits[0], got.dominant_bits[0]) == (0, 0)
