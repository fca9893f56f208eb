"""Practice trucks: the seed decides everything, every fault can be practised, any points in any state can be probed."""

import itertools

import pytest

from linkcheck.circuit import State
from linkcheck.errors import UsageError
from linkcheck.faults.catalogue import FAULTS
from linkcheck.practice.adviser import probe_of
from linkcheck.practice.hidden_truck import HiddenTruck, Probe
from linkcheck.quantities import read_reading
from linkcheck.walk.checks import CHECKS

KEY_OFF, KEY_ON, DEAD = State(), State(key="on"), State(battery="disconnected")
PLUGGED = State(key="on", adapter="own")
ADAPTER_DEAD = State(battery="disconnected", adapter="own")
FAULTY = [name for name in FAULTS if name != "none"]


def all_checks(truck):
    """Every check of the walk on a truck, as typed."""
    return {
        name: truck.probe(probe_of(check, truck.bit_rate), check.state).typed
        for name, check in CHECKS.items()
        if check.quantity not in ("heard", "look")
    }


def test_the_seed_decides():
    assert all_checks(HiddenTruck(["feed_resistance"], 7)) == all_checks(HiddenTruck(["feed_resistance"], 7))
    assert all_checks(HiddenTruck(["feed_resistance"], 7)) != all_checks(HiddenTruck(["feed_resistance"], 8))


@pytest.mark.parametrize("fault", FAULTY)
def test_every_fault_can_be_practised(fault):
    truck, repaired = HiddenTruck([fault], 11), HiddenTruck([fault], 11)
    repaired.without(fault)
    assert [each.id for each in truck.hidden] == [fault]
    assert repaired.hidden == ()
    readings, soundly = all_checks(truck), all_checks(repaired)
    heard = [each.probe(Probe("listen"), PLUGGED).heard for each in (truck, repaired)]
    # No check of the walk has an adapter in the connector on ohms, but a learner may try.
    inside = [each.probe(Probe("ohms", "C", "D"), ADAPTER_DEAD).typed for each in (truck, repaired)]
    assert (
        any(differs(CHECKS[name], readings[name], soundly[name]) for name in readings)
        or heard[0] != heard[1]
        or differs(CHECKS["ohms:C-D:dead"], *inside)
    )


def test_a_repaired_truck_reads_like_one_that_never_had_the_fault():
    repaired = HiddenTruck(["feed_open", "terminator_missing"], 11)
    for fault in repaired.faults:
        repaired.without(fault)
    assert all_checks(repaired) == all_checks(HiddenTruck([], 11))


def differs(check, one, other):
    if check.quantity == "listen" or "OL" in (one, other):
        return one != other
    first, second = (read_reading(text, check.quantity).value for text in (one, other))
    return abs(first - second) > 0.02 * abs(second) + (0.01 if check.quantity == "dc_volts" else 0.2)


def test_any_two_points_can_be_probed_in_any_state():
    truck = HiddenTruck(["short:can_high-battery"], 3)
    states = [KEY_OFF, KEY_ON, DEAD, PLUGGED, State(key="on", battery="disconnected", fuse="pulled")]
    pairs = list(itertools.product(truck.points, repeat=2))[::37]
    for state in states:
        for red, black in pairs:
            for quantity in ("dc_volts", "ohms"):
                assert truck.probe(Probe(quantity, red, black), state).typed


def test_a_voltmeter_turned_round_shows_the_same_with_a_minus():
    truck = HiddenTruck([], 5)
    one, other = (read_reading(truck.probe(Probe("dc_volts", *pair), KEY_OFF).typed, "dc_volts").value
                  for pair in (("B", "A"), ("A", "B")))  # fmt: skip
    assert one == pytest.approx(-other, abs=0.03)


def test_the_six_modules_are_those_whose_traffic_can_be_recorded():
    assert HiddenTruck([], 5).probe(Probe("listen"), PLUGGED).heard == (0, 3, 11, 15, 33, 49)


def test_there_are_no_points_at_modules_that_are_not_there():
    points = HiddenTruck([], 5).points
    assert "module_6.high" in points
    assert "module_7.high" not in points


def test_listening_takes_an_adapter():
    with pytest.raises(UsageError, match="no adapter"):
        HiddenTruck([], 5).probe(Probe("listen"), KEY_ON)


def test_points_and_faults_that_there_are_not_are_refused():
    with pytest.raises(UsageError, match="no such point"):
        Probe("ohms", "C", "Q")
    with pytest.raises(UsageError, match="no such fault"):
        HiddenTruck(["rust"], 1)
