"""Error frames in words. Source of every expected value: Linux kernel include/uapi/linux/can/error.h."""

import re
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from linkcheck.frames import bus_errors
from linkcheck.frames.bus_errors import BusError, decode_error

FLAG = 0x20000000
HEADER = Path("/usr/include/linux/can/error.h")


def test_bus_off():
    assert decode_error(FLAG | 0x40, bytes(8)) == BusError(classes=("bus off",))


def test_can_high_to_ground_as_the_transceiver_tells_it():
    error = decode_error(FLAG | 0x10, bytes((0, 0, 0, 0, 0x07, 0, 0, 0)))
    assert error.classes == ("transceiver status",)
    assert error.transceiver == ("CAN high shorted to ground",)


def test_no_acknowledgement():
    assert decode_error(FLAG | 0x20, bytes(8)).classes == ("no acknowledgement",)


def test_counters_and_state():
    error = decode_error(FLAG | 0x204, bytes((0, 0x28, 0, 0, 0, 0, 136, 12)))
    assert error.controller == ("transmit errors reached warning level", "transmit errors reached passive level")
    assert (error.tx_errors, error.rx_errors) == (136, 12)


def test_counters_of_zero_are_told_when_flagged():
    error = decode_error(FLAG | 0x200, bytes(8))
    assert error == BusError(classes=(), tx_errors=0, rx_errors=0)


def test_older_kernels_give_counters_without_saying_so():
    # can-utils lib.c prints them when either is not zero.
    error = decode_error(FLAG | 0x20, bytes((0, 0, 0, 0, 0, 0, 128, 0)))
    assert (error.tx_errors, error.rx_errors) == (128, 0)
    assert decode_error(FLAG | 0x20, bytes(8)).tx_errors is None


def test_a_violation_with_its_place():
    error = decode_error(0x88, bytes((0, 0, 0x90, 0x19, 0, 0, 0, 0)))
    assert error.classes == ("protocol violation", "bus error")
    assert error.protocol == ("unable to send recessive bit", "error while transmitting")
    assert error.location == "acknowledge slot"


def test_arbitration_lost():
    assert decode_error(0x02, bytes((12, 0, 0, 0, 0, 0, 0, 0))).arbitration_bit == 12
    assert decode_error(0x02, bytes(8)).arbitration_bit is None


def test_both_lines_of_the_pair():
    assert decode_error(0x10, bytes((0, 0, 0, 0, 0x75, 0, 0, 0))).transceiver == (
        "CAN high shorted to battery",
        "CAN low shorted to ground",
    )


def test_details_left_out_are_unspecified():
    error = decode_error(0x1C, bytes(8))
    assert error.controller == error.protocol == error.transceiver == ("unspecified",)
    assert error.location is None


def test_unknown_bits_are_named_as_such():
    error = decode_error(0x41C, bytes((0, 0x80, 0, 0x1F, 0x03, 0, 0, 0)))
    assert error.classes[-1] == "unknown class bit 0x400"
    assert error.controller == ("unknown controller bit 0x80",)
    assert error.location == "unknown location 0x1f"
    assert error.transceiver == ("unknown transceiver status 0x03",)


@pytest.mark.skipif(not HEADER.exists(), reason="the Linux kernel headers are not installed (Debian: linux-libc-dev)")
@pytest.mark.parametrize(
    ("prefix", "table"),
    [
        ("CAN_ERR_(?:TX_TIMEOUT|LOSTARB|CRTL|PROT|TRX|ACK|BUSOFF|BUSERROR|RESTARTED)", "_CLASSES"),
        ("CAN_ERR_CRTL_[A-Z_]+", "_CONTROLLER"),
        ("CAN_ERR_PROT_(?!LOC_)[A-Z0-9_]+", "_PROTOCOL"),
        ("CAN_ERR_PROT_LOC_[A-Z0-9_]+", "_LOCATIONS"),
        ("CAN_ERR_TRX_[A-Z_]+", "_TRANSCEIVER"),
    ],
)
def test_tables_hold_exactly_what_the_header_defines(prefix, table):
    defined = re.findall(rf"#define ({prefix})\s+0x([0-9A-Fa-f]+)U?\b", HEADER.read_text())
    values = {int(value, 16): name for name, value in defined if int(value, 16)}
    ours = getattr(bus_errors, table)
    assert ours.keys() == values.keys()
    # The wording follows the symbol where the symbol is plain.
    words = {"CANH": "CAN high", "CANL": "CAN low", "BAT": "battery", "GND": "ground", "VCC": "supply", "CRC": "CRC"}
    words |= {"OVERFLOW": "overflow", "WARNING": "warning", "PASSIVE": "passive", "TX": "transmit", "RX": "receive"}
    for value, name in values.items():
        for part in name.split("_")[3:]:
            assert words.get(part, "") in ours[value]


@given(st.integers(0, 2**32 - 1), st.binary(max_size=8))
def test_any_error_frame_can_be_told(identifier, data):
    error = decode_error(identifier, data)
    assert len(error.classes) == (identifier & 0x1FFFFFFF & ~0x200).bit_count()
