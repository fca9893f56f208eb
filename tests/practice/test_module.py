"""A module's manners on the network: claims and their loss, requests, codes (SAE J1939-81, -21, -73)."""

import itertools
from dataclasses import replace

import pytest

from linkcheck.practice.day import Day
from linkcheck.practice.plant import Plant
from linkcheck.practice.truck import CAB, ENGINE, PLANS, build_truck

SECOND = 10**9


@pytest.fixture
def truck():
    return build_truck(Day("manners", 1, 5.0, 250_000), Plant(), addresses=(ENGINE, CAB))


def frames(truck, identifier):
    return [(time_ns / SECOND, data) for time_ns, ident, _, data in truck.recorder.rows if ident == identifier]


def test_loser_of_an_address_says_so_from_254_and_falls_silent(truck):
    # SAE J1939-81: the lower NAME keeps the address; "cannot claim" is an address claim from the null address 254.
    winner = replace(PLANS[CAB], name=replace(PLANS[CAB].name, identity=1, function=0))
    truck.bus.at(2 * SECOND, truck.add(winner, key="newcomer", boots=False).power_on)
    truck.bus.run(5 * SECOND)
    ((lost_s, name),) = frames(truck, 0x18EEFFFE)
    assert 2.0 < lost_s < 3.0
    assert name == frames(truck, 0x18EEFF31)[0][1]
    seconds = [time_s for time_s, _ in frames(truck, 0x18FEE631) if time_s > lost_s]  # one sender of 1 s from now on
    assert all(0.9 < b - a < 1.1 for a, b in itertools.pairwise(seconds))


def test_request_for_claims_is_answered_by_everybody(truck):
    truck.add_tool(((2.0, 255, 60928),))
    truck.bus.run(4 * SECOND)
    for address in (0x00, 0x31):
        assert len(frames(truck, 0x18EEFF00 | address)) == 2


def test_first_frame_of_a_module_is_its_claim(truck):
    truck.bus.run(2 * SECOND)
    for address in (0x00, 0x31):
        first = next(ident for _, ident, _, _ in truck.recorder.rows if ident & 0xFF == address)
        assert first == 0x18EEFF00 | address


def test_codes_are_remembered_when_the_missing_module_is_back(truck):
    # DM2 (65227, 0xFECB) holds what was active before: the engine missed the transmission, SPN 191 FMI 9.
    late = truck.add(PLANS[3], key="late", boots=False)
    truck.bus.at(4 * SECOND, late.power_on)
    truck.add_tool(((3.5, ENGINE, 65227), (8.0, ENGINE, 65227)))
    truck.bus.run(9 * SECOND)
    before, after = (data for _, data in frames(truck, 0x18FECB00))
    assert before == bytes.fromhex("04FF00000000FFFF")  # lamp on, nothing past
    assert after[2:6] == bytes([191, 0, 9, 1])


def test_power_cut_silences_and_the_claim_comes_first_again(truck):
    truck.modules[ENGINE].lose_power(((2 * SECOND, 3 * SECOND),))
    truck.bus.run(5 * SECOND)
    claims = [time_s for time_s, _ in frames(truck, 0x18EEFF00)]
    times = [time_ns / SECOND for time_ns, ident, _, _ in truck.recorder.rows if ident & 0xFF == 0]
    assert not [t for t in times if 2.001 < t < claims[-1]]
    assert 3.0 < claims[-1] < 3.2
