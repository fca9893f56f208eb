import re
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from linkcheck.errors import DataError
from linkcheck.j1939 import Name
from linkcheck.j1939.name import _WIDTHS

# Open data set SystemsCyber/CyberTruckResources, commit f434e585.
KEEPS = bytes.fromhex("06 03 BF 01 00 00 00 10")
LOSES = bytes.fromhex("D0 6B 01 01 00 00 00 80")


def test_a_captured_name():
    name = Name.from_bytes(KEEPS)
    assert name.value == 1152921504636142342
    assert name == Name(manufacturer=13, identity=2032390, industry_group=1)


def test_the_lower_name_keeps_the_address():
    loser = Name.from_bytes(LOSES)
    assert loser.value == 9223372036871646160
    assert loser == Name(manufacturer=8, identity=93136, arbitrary_address_capable=1)
    assert Name.from_bytes(KEEPS).wins_over(loser)
    assert not loser.wins_over(Name.from_bytes(KEEPS))


def test_every_field_lands_in_its_place():
    # AgIsoStack++ unit test, commit 509a920c.
    name = Name(
        arbitrary_address_capable=1,
        industry_group=1,
        vehicle_system_instance=7,
        vehicle_system=2,
        function=3,
        function_instance=6,
        ecu_instance=5,
        manufacturer=8,
        identity=4,
    )
    assert name.value == 10881826125818888196
    assert name.to_bytes() == bytes.fromhex("04 00 00 01 35 03 04 97")


def test_widths_are_those_of_the_kernel_header():
    header = Path("/usr/include/linux/can/j1939.h")
    if not header.exists():
        pytest.skip("the Linux kernel headers are not installed (Debian: linux-libc-dev)")
    rows = re.findall(r"\* bit (\d+)(?:-(\d+))?\s*: (.+)", header.read_text().split("J1939 NAME")[1])
    theirs = {text.lower().replace(" ", "_"): (int(low), int(high or low)) for low, high, text in rows}
    low = 0
    for field, width in _WIDTHS.items():
        words = {"identity": "identity_number", "manufacturer": "manufacturer_code"}
        assert theirs[words.get(field, field)] == (low, low + width - 1)
        low += width
    assert low == 64


@given(st.binary(min_size=8, max_size=8))
def test_bytes_survive(data):
    name = Name.from_bytes(data)
    assert name.to_bytes() == data
    assert Name.from_value(name.value) == name


@pytest.mark.parametrize("data", [b"", bytes(7), bytes(9)])
def test_a_name_has_eight_bytes(data):
    with pytest.raises(DataError, match="8 bytes"):
        Name.from_bytes(data)


def test_a_field_too_large_is_refused():
    with pytest.raises(DataError, match="manufacturer is 2048"):
        Name(manufacturer=2048)
    with pytest.raises(DataError, match="64-bit"):
        Name.from_value(1 << 64)
