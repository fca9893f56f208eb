"""The list of checks: only points that are there, and no state in which a meter or a person comes to harm."""

import pytest

from linkcheck.circuit import POINTS, State
from linkcheck.faults.catalogue import FAULTS
from linkcheck.pinout import find_pinout, load_pinout
from linkcheck.walk.checks import CHECKS
from linkcheck.walk.costs import minutes_between, minutes_for
from linkcheck.walk.layout import layout_of


@pytest.mark.parametrize("check", CHECKS.values(), ids=CHECKS)
def test_ohms_only_with_the_battery_off_and_nothing_plugged_in(check):
    """Ohms on a live pair lie; common practice, no source."""
    if check.quantity == "ohms":
        assert check.state.battery == "disconnected"
        assert check.state.key == "off"
        assert check.state.adapter == "unplugged"


@pytest.mark.parametrize("check", CHECKS.values(), ids=CHECKS)
def test_volts_and_adapters_only_with_the_battery_on_and_nothing_pulled(check):
    if check.quantity != "ohms":
        assert check.state.battery == "connected"
        assert not check.state.unplugged
        assert check.state.fuse == "in"


def test_both_leads_go_to_points_that_are_there():
    leads = {
        point
        for check in CHECKS.values()
        if check.quantity in ("dc_volts", "ohms")
        for point in (check.red, check.black)
    }
    assert leads <= set(POINTS)


def test_every_check_that_the_catalogue_names_is_on_the_list():
    named = {proof.check for fault in FAULTS.values() for some in (*fault.proof, fault.after) for proof in some}
    named |= {alike.check for fault in FAULTS.values() for alike in fault.look_alikes if alike.check}
    named |= {cause.check for fault in FAULTS.values() for cause in fault.causes if cause.check}
    assert named <= set(CHECKS)


def test_a_lead_is_cheap_and_the_battery_is_dear():
    volts = CHECKS["volts:B-A:key_off"]
    assert minutes_for(volts, State()) < 1.0
    assert minutes_for(CHECKS["ohms:C-D:dead"], State()) > 4.0


def test_there_and_back_costs_as_much_either_way_round():
    dead = State(battery="disconnected", unplugged=frozenset({"terminator_1"}))
    assert minutes_between(State(), dead) == minutes_between(dead, State())


def of(name, **said):
    return layout_of(load_pinout(find_pinout(name)), **said)


def test_without_a_j1708_pair_nothing_of_it_is_asked_or_suspected():
    layout = of("9-pin-type-1", j1708=False)
    assert not any("F" in (check.red, check.black) for check in layout.checks(by_eye=True))
    assert not any("j1708" in fault or fault in ("cavity_open:F", "swapped:F-G") for fault in layout.faults())


def test_a_six_pin_connector_has_no_can_checks():
    layout = of("6-pin")
    assert {check.subsystem for check in layout.checks(by_eye=True)} == {"supply", "j1708", "look"}
    assert "terminator_missing" not in layout.faults()
    assert layout.named("cavity_open:F") == "cavity_open:A"  # J1708 plus is on A there


def test_a_sixteen_pin_connector_has_its_own_numbers():
    layout = of("16-pin-j1962")
    assert layout.named("C.wire") == "6.wire"
    assert layout.named("leakage:B-C") == "leakage:16-6"
    assert layout.equipment.bit_rate == 500_000
    assert layout.equipment.j1708 is False


def test_a_program_is_asked_nothing_that_takes_eyes():
    quantities = {check.quantity for check in of("9-pin-type-1").checks(by_eye=False)}
    assert quantities == {"dc_volts", "ohms", "listen"}
