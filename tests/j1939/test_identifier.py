import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from linkcheck.errors import DataError
from linkcheck.j1939 import GLOBAL, Identifier, destinations, join, pgns, sources, split

identifiers = st.integers(0, 2**29 - 1)


def test_engine_speed_message_is_for_everyone():
    # Rule of Linux kernel Documentation/networking/j1939.rst, "PGN", on the commonest identifier of all.
    assert split(0x0CF00400) == Identifier(priority=3, pgn=61444, source=0, destination=255)


def test_request_is_addressed():
    # Open data set SystemsCyber/CyberTruckResources, commit f434e585: 18EA0FF9 # EB FE 00.
    assert split(0x18EA0FF9) == Identifier(priority=6, pgn=59904, source=249, destination=15)


@pytest.mark.parametrize(
    ("identifier", "pgn", "destination"),
    [
        (0x18EFFF00, 0xEF00, 255),  # PDU1, last format but 16: PS is the destination
        (0x18F00000, 0xF000, 255),  # PDU2 begins at format 240 (SAE J1939-21)
        (0x19230020, 0x12300, 0x00),  # PGN 0x12300, Linux kernel Documentation/networking/j1939.rst, send example
        (0x19233020, 0x12300, 0x30),
    ],
)
def test_the_format_decides_who_is_meant(identifier, pgn, destination):
    assert (split(identifier).pgn, split(identifier).destination) == (pgn, destination)


def test_page_bits():
    assert (split(0x01000000).data_page, split(0x01000000).extended_data_page) == (1, 0)
    assert (split(0x02000000).data_page, split(0x02000000).extended_data_page) == (0, 1)


@given(identifiers)
def test_join_undoes_split(identifier):
    one = split(identifier)
    assert join(one.priority, one.pgn, one.source, one.destination) == identifier


@given(st.lists(identifiers, max_size=30))
def test_columns_say_what_split_says(numbers):
    column = np.array(numbers, np.uint32)
    ours = zip(pgns(column).tolist(), sources(column).tolist(), destinations(column).tolist(), strict=True)
    assert list(ours) == [(one.pgn, one.source, one.destination) for one in map(split, numbers)]
    assert (pgns(column).dtype, sources(column).dtype, destinations(column).dtype) == (np.uint32, np.uint8, np.uint8)


@pytest.mark.parametrize("identifier", [-1, 1 << 29])
def test_more_than_29_bits_is_refused(identifier):
    with pytest.raises(DataError, match="not a 29-bit identifier"):
        split(identifier)


@pytest.mark.parametrize(
    ("fields", "said"),
    [
        ((8, 61444, 0, GLOBAL), "priority 8"),
        ((3, 1 << 18, 0, GLOBAL), "PGN 262144"),
        ((3, 61444, 256, GLOBAL), "source 256"),
        ((3, 61444, 0, 33), "always for everyone"),
        ((6, 59905, 0, 33), "low byte"),
    ],
)
def test_fields_that_do_not_fit_are_refused(fields, said):
    with pytest.raises(DataError, match=said):
        join(*fields)
