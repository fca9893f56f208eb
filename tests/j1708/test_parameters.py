"""How a list of parameters is cut.

Outside figures: the unit tests and doc/format.rst of drewhutchison/pyJ1587, and two messages printed in the README of
ainfosec/pretty_j1587.
"""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from linkcheck.j1708 import checksum
from linkcheck.j1708.parameters import Parameter, parameters, parse_parameters
from linkcheck.j1708.pids import pid_value

PUBLISHED = [  # body without MID and checksum: what pyJ1587's tests build it from
    ("01 88", [(1, "88")]),
    ("01 88 01 88", [(1, "88"), (1, "88")]),
    ("FF 05 99", [(0x105, "99")]),
    ("FF 05 99 05 99", [(0x105, "99"), (0x105, "99")]),
    ("FF F5 0B" + b"Hello world".hex(), [(0x1F5, b"Hello world".hex())]),
    ("C0 01 33", [(0xC0, "33")]),
    ("C1 02 33 34", [(0xC1, "33 34")]),
    ("80 79 69", [(0x80, "79 69")]),
    ("FE 7B" + b"payload".hex(), [(254, "7B" + b"payload".hex())]),
    ("01 08 FE 7B 01 08", [(1, "08"), (254, "7B 01 08")]),
]


@pytest.mark.parametrize(("body", "expected"), PUBLISHED)
def test_published_lists(body, expected):
    assert parameters(bytes.fromhex(body)) == [Parameter(pid, bytes.fromhex(data)) for pid, data in expected]


def test_published_distance_of_a_trailer():
    message = bytes.fromhex("89 F5 04 E1 00 00 00")
    assert checksum(message) == 0x9D
    (parameter,) = parameters(message[1:])
    assert parameter == Parameter(245, bytes.fromhex("E1 00 00 00"))
    assert pid_value(245, parameter.data) == pytest.approx(0xE1 * 0.161)  # 0.161 km a bit, same source


def test_published_section_of_a_long_parameter():
    message = bytes.fromhex("89 C0 11 FE 40 45 AC 43 D4 C2 40 45 BF 00 00 09 00 00 01 8F")
    assert checksum(message) == 0xC1
    (parameter,) = parameters(message[1:])
    assert parameter.pid == 192
    assert len(parameter.data) == 17


@pytest.mark.parametrize("body", ["", "01", "80 01", "C0", "C0 05 01 02", "FF", "FF FF", "01 08 C0"])
def test_a_list_that_does_not_come_out_even_is_none(body):
    assert parameters(bytes.fromhex(body)) is None


def test_what_is_left_is_handed_back():
    assert parse_parameters(bytes.fromhex("01 88 80 01")) == ([Parameter(1, b"\x88")], b"\x80\x01")


def _encode(pid, data):
    low = pid % 256
    return bytes([low, len(data)]) + data if 192 <= low <= 253 else bytes([low]) + data


lists = st.lists(
    st.one_of(
        st.tuples(st.integers(0, 127), st.binary(min_size=1, max_size=1)),
        st.tuples(st.integers(128, 191), st.binary(min_size=2, max_size=2)),
        st.tuples(st.integers(192, 253), st.binary(max_size=9)),
    ),
    min_size=1,
    max_size=9,
)


@given(lists, st.integers(0, 2))
def test_round_trip_on_every_page(pairs, page):
    body = b"\xff" * page + b"".join(_encode(pid, data) for pid, data in pairs)
    assert parameters(body) == [Parameter(page * 256 + pid, data) for pid, data in pairs]


@given(st.binary(max_size=40))
def test_any_bytes_are_cut_without_loss_of_order(body):
    found, rest = parse_parameters(body)
    assert body.endswith(rest)
    assert all(parameter.pid % 256 != 255 for parameter in found)
