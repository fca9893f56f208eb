"""A frame on the simulated wire: its bits, its length, and who wins the bus."""

import anycrc
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from wire_reference import frame_bits

from linkcheck.frames import EXTENDED, FrameBatch, wire_bits
from linkcheck.practice.wire import Frame, Place, on_the_wire

# Length with interframe space, and CRC: can-utils canframelen.c (exact mode) and an independent bit builder agree.
PUBLISHED = [
    (0x0CF00400, "F87D7D000000FF7D", True, 144, 0x14AD),
    (0x18FECA00, "FFFF00000000FFFF", True, 147, 0x00E7),
    (0x18EEFF00, "0603BF0100000010", True, 144, 0x5914),
    (0x18EA0FF9, "EBFE00", True, 99, 0x2B8E),
    (0x123, "", False, 48, 0x6858),
    (0x123, "00" * 8, False, 125, 0x044E),
    (0x7FF, "FF" * 8, False, 126, 0x4C89),
    (0x00000000, "00" * 8, True, 150, 0x3DAF),
]

frames = st.builds(
    lambda extended, ident, data: Frame(ident if extended else ident & 0x7FF, data, extended),
    st.booleans(),
    st.integers(0, (1 << 29) - 1),
    st.binary(max_size=8),
)


def field(wire, place):
    """Bits of one field with the stuff bits taken out again."""
    kept, run, last, skip = [], 0, None, False
    for level, at in zip(wire.levels, wire.places, strict=True):
        if skip:
            run, last, skip = 1, level, False
            continue
        run = run + 1 if level == last else 1
        last = level
        skip = run == 5 and at not in (Place.CRC_DELIMITER, Place.ACK_SLOT, Place.ACK_DELIMITER, Place.END)
        if at is place:
            kept.append(level)
    return "".join(kept)


@pytest.mark.parametrize(("identifier", "data", "extended", "length", "crc"), PUBLISHED)
def test_published_length_and_crc(identifier, data, extended, length, crc):
    wire = on_the_wire(Frame(identifier, bytes.fromhex(data), extended))
    assert wire.length == length
    assert int(field(wire, Place.CRC), 2) == crc


@given(frames)
def test_bits_equal_an_independent_account(frame):
    # The reference acknowledges; the sender itself leaves the slot recessive.
    wire = on_the_wire(frame)
    expected = frame_bits(frame.identifier, frame.data, extended=frame.extended)
    slot = wire.first(Place.ACK_SLOT)
    assert [int(level) for level in wire.levels[:slot]] == expected[:slot]
    assert wire.length == len(expected)


@given(frames)
def test_length_equals_the_vectorised_routine(frame):
    flags = EXTENDED if frame.extended else 0
    batch = FrameBatch.from_rows([(0, 0, frame.identifier, flags, len(frame.data), frame.data)], ("can0",))
    assert np.array_equal(wire_bits(batch), [on_the_wire(frame).length])


@given(frames)
def test_crc_equals_a_crc_library(frame):
    wire = on_the_wire(frame)
    slot = wire.first(Place.CRC)
    covered = "".join(field(wire, place) for place in dict.fromkeys(wire.places[:slot]) if place is not Place.CRC)
    # Zeros in front change nothing, as the register starts at zero.
    padded = covered.zfill(-(-len(covered) // 8) * 8)
    checksum = anycrc.Model("CRC15-CAN").calc(int(padded, 2).to_bytes(len(padded) // 8, "big"))
    assert int(field(wire, Place.CRC), 2) == checksum


def test_lower_identifier_wins():
    assert Frame(0x0CF00400).rank < Frame(0x18FEF100).rank


def test_eleven_bits_win_over_twenty_nine_with_the_same_start():
    # CAN Specification 2.0 B, 3.2.1: "the SRR bit is recessive", so the base format prevails.
    assert Frame(0x123, extended=False).rank < Frame(0x123 << 18).rank


def test_twenty_nine_bits_win_where_their_first_eleven_are_lower():
    assert Frame(0x122 << 18 | 0x3FFFF).rank < Frame(0x123, extended=False).rank
