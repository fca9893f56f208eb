"""Frames read back from bits: every frame of an independent account of the wire, and none that was damaged."""

import json
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from wire_reference import frame_bits

from linkcheck.frames.received import receive


@st.composite
def frames(draw):
    extended = draw(st.booleans())
    remote = draw(st.booleans())
    data = b"" if remote else draw(st.binary(max_size=8))
    length = draw(st.integers(0, 8)) if remote else len(data)
    return draw(st.integers(0, (1 << (29 if extended else 11)) - 1)), data, extended, remote, length


@given(frames())
def test_what_was_sent_is_what_is_read(frame):
    identifier, data, extended, remote, length = frame
    bits = frame_bits(identifier, data, extended=extended, remote=remote, length=length)
    read = receive(bits)
    assert read.good
    assert (read.identifier, read.data, read.extended, read.remote, read.length) == frame
    assert read.used_bits == len(bits) - 3
    assert bits[read.ack_bit] == 0


@given(frames(), st.data())
def test_a_flipped_bit_is_never_taken_for_a_good_frame(frame, data):
    identifier, payload, extended, remote, length = frame
    bits = frame_bits(identifier, payload, extended=extended, remote=remote, length=length)
    flipped = data.draw(st.integers(0, len(bits) - 5))  # the last bit of the end of frame may be an overload flag
    bits[flipped] ^= 1
    read = receive(bits)
    assert not read.good or (read.identifier, read.data) == (identifier, payload)


@given(st.lists(st.integers(0, 1), max_size=200))
def test_any_bits_at_all_give_an_answer(bits):
    assert receive(bits).used_bits <= len(bits)


@pytest.mark.parametrize(
    ("identifier", "data", "crc"),
    [
        # agreed on by can-utils' canframelen and an independent builder
        (0x0CF00400, "F87D7D000000FF7D", 0x14AD),
        (0x18FECA00, "FFFF00000000FFFF", 0x00E7),
        (0x18EA0FF9, "EBFE00", 0x2B8E),
    ],
)
def test_published_checksums(identifier, data, crc):
    read = receive(frame_bits(identifier, bytes.fromhex(data), extended=True))
    assert read.crc_sent == read.crc_reckoned == crc


def test_an_fd_frame_is_named_and_not_misread():
    assert json.loads((Path(__file__).parents[1] / "data" / "fd-vectors.json").read_text())  # the format exists
    bits = [0, *[1, 0] * 5, 1, 0, 0, 1, 0]  # start, 11 bits, RRS, IDE, FDF
    assert "FD" in receive(bits).problem
