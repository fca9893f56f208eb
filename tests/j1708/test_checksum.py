"""Checksums of the published messages in the unit tests of drewhutchison/pyJ1587 (summed again by hand)."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from linkcheck.j1708 import checksum, is_sound

PUBLISHED = [
    ("00 01 88", 0x77),
    ("01 01 08", 0xF6),
    ("0C 01 88", 0x6B),
    ("00 01 88 01 88", 0xEE),
    ("17 FF 05 99", 0x4C),
    ("25 FF 05 99 05 99", 0xA0),
    ("C3 FF F5 0B" + b"Hello world".hex(), 0x02),
]


@pytest.mark.parametrize(("message", "expected"), PUBLISHED)
def test_published_messages(message, expected):
    data = bytes.fromhex(message)
    assert checksum(data) == expected
    assert is_sound(data + bytes([expected]))


@given(st.binary(min_size=1, max_size=20), st.data())
def test_one_changed_byte_never_passes(message, data):
    whole = bytearray(message + bytes([checksum(message)]))
    place = data.draw(st.integers(0, len(whole) - 1))
    whole[place] ^= data.draw(st.integers(1, 255))
    assert not is_sound(bytes(whole))


def test_nothing_is_no_message():
    assert not is_sound(b"")
    assert not is_sound(b"\0")
