"""Tables of addresses, messages and parameters. The addresses are compared whole in tests/against."""

import pytest

from linkcheck.j1939 import address_name, network_meaning, nominal_period_ms, pgn_name, spn_name
from linkcheck.j1939.messages import MESSAGES
from linkcheck.j1939.network_codes import NETWORK_SPNS
from linkcheck.j1939.parameter_names import PARAMETER_NAMES


def test_addresses_by_name():
    # SAE J1939 preferred addresses, as in Wireshark's packet-j1939.c.
    assert address_name(0) == "engine 1"
    assert address_name(3) == "transmission 1"
    assert address_name(11) == "brake system controller"
    assert {address_name(n) for n in range(128, 248)} == {"dynamic address"}
    assert address_name(100) == "address 100"


@pytest.mark.parametrize(
    ("pgn", "period_ms"),
    # Open data set SystemsCyber/CyberTruckResources, Jupyter/J1939db.json, commit 46c16ec2, "Rate".
    [
        (61441, 100),
        (61442, 10),
        (61443, 50),
        (61444, None),
        (65226, 1000),
        (65247, 250),
        (65251, 5000),
        (65252, 1000),
        (65253, None),
        (65259, None),
        (65262, 1000),
        (65263, 500),
        (65265, 100),
        (65266, 100),
        (65267, 5000),
        (65268, 10000),
        (65269, 1000),
        (65270, 500),
        (65271, 1000),
        (59904, None),
    ],
)
def test_nominal_periods(pgn, period_ms):
    assert nominal_period_ms(pgn) == period_ms


def test_messages_by_name():
    assert pgn_name(61444) == "electronic engine controller 1"
    assert pgn_name(65226) == "active trouble codes (DM1)"
    assert pgn_name(65300) == "proprietary, to everyone"
    assert pgn_name(64000) == "PGN 64000"
    assert len({message.name for message in MESSAGES.values()}) == len(MESSAGES)


@pytest.mark.parametrize(
    ("spn", "name"),
    # Open-SAE-J1939, Enum_DM1_DM2.h, commit 22cad285.
    [
        (100, "oil pressure"),
        (110, "coolant temperature"),
        (158, "keyswitch"),
        (168, "battery"),
        (190, "engine speed"),
        (608, "J1587"),
        (609, "controller 2"),
        (625, "proprietary"),
        (629, "controller 1"),
        (639, "network 1"),
    ],
)
def test_parameters_by_name(spn, name):
    assert name in spn_name(spn)


def test_every_network_parameter_has_a_name_and_a_meaning_for_every_failure_mode():
    # The list: Open-SAE-J1939, Enum_DM1_DM2.h, commit 22cad285.
    published = {608, 609, 625, 629, 639, 1230, 1231, 1235, 1236, *range(1668, 1675)}
    assert published == NETWORK_SPNS
    assert all(spn in PARAMETER_NAMES for spn in published)
    for spn in NETWORK_SPNS:
        for fmi in range(32):
            meaning = network_meaning(spn, fmi)
            assert meaning is not None
            assert meaning[0].isupper() or meaning[0].isdigit()
            assert meaning.endswith(".")
            assert "{" not in meaning


@pytest.mark.parametrize(("spn", "fmi"), [(639, 9), (1231, 9), (639, 19), (84, 19), (84, 9), (5109, 19)])
def test_missing_messages_point_away_from_the_reporter(spn, fmi):
    assert "not at the reporter" in network_meaning(spn, fmi)


def test_a_sensor_code_says_nothing_about_the_network():
    assert network_meaning(110, 3) is None
