"""Who hears whom and what the adapter shows, against published opinions on which faults stop traffic.

Published: a high line on the battery and a low line on ground can still talk; high on ground, low on the battery and
high on low cannot (TI E2E interface forum, thread 1451629). A workshop manual agrees, and says of a bus with one
terminator that it may stay operational, of one with none that it is too slow. Single-line effects at one module are
lost to that module alone.
"""

import numpy as np
import pytest
from circuit.textbook import NOTHING, textbook_truck

from linkcheck.circuit import ACTIVITIES, OPEN, SHOWS, Situation, State

KEY_ON = State(key="on")
OWN = State(key="on", adapter="own")
SHORT = 0.2


def shows(trucks, state=OWN, bit_rate=None):
    return SHOWS[Situation(trucks, state).adapter(bit_rate).shows[0]]


def activity(trucks, state=KEY_ON):
    return ACTIVITIES[Situation(trucks, state).talk.activity[0]]


def flags(*modules):
    chosen = np.zeros((8, 1), bool)
    chosen[list(modules)] = True
    return chosen


def test_a_sound_truck_is_heard_in_full():
    view = Situation(textbook_truck(), OWN).adapter()
    assert SHOWS[view.shows[0]] == "frames"
    assert view.heard.all()


@pytest.mark.parametrize(
    ("ends", "talks"),
    [
        (("C", "distribution"), True),
        (("D", "chassis"), True),
        (("C", "chassis"), False),
        (("D", "distribution"), False),
        (("C", "D"), False),
    ],
    ids=["H to battery", "L to ground", "H to ground", "L to battery", "H to L"],
)
def test_which_shorts_stop_traffic(ends, talks):
    trucks = textbook_truck(module_low_limit_amps=0.07, adapter_common_mode_volts=30.0).bridged(*ends, SHORT)
    assert (shows(trucks) == "frames") is talks


def test_high_on_the_battery_stops_receivers_of_the_first_generation():
    # ISO 11898:1993 asks for -2 to 7 V of common mode only; older manuals call this short fatal
    trucks = textbook_truck(module_common_mode_volts=7.0, adapter_common_mode_volts=7.0)
    assert shows(trucks.bridged("C", "distribution", SHORT)) != "frames"
    assert shows(trucks) == "frames"


def test_high_on_24_volts_stops_everything():
    trucks = textbook_truck(system_volts=24.0, adapter_common_mode_volts=30.0)
    assert shows(trucks.bridged("C", "distribution", SHORT)) != "frames"


@pytest.mark.parametrize(
    ("terminators", "talks"), [((120.0, 120.0), True), ((120.0, OPEN), True), ((OPEN, OPEN), False)]
)
@pytest.mark.parametrize("bit_rate", [250e3, 500e3])
def test_one_terminator_is_enough_on_a_short_bus_and_none_is_too_slow(terminators, talks, bit_rate):
    trucks = textbook_truck(terminator_ohms=np.array(terminators)[:, None], bit_rate=bit_rate)
    assert (shows(trucks) == "frames") is talks


@pytest.mark.parametrize(
    ("terminators", "microseconds"),
    [((120.0, 120.0), 0.192), ((120.0, OPEN), 0.384), ((OPEN, OPEN), 9.6)],
)
def test_edge_decays_with_the_bus_resistance_times_its_capacitance(terminators, microseconds):
    # 3.2 nF (40 m of 75 pF/m and 10 nodes of 20 pF) on 60, 120 ohm or 10 nodes of 30 kohm: R times C
    trucks = textbook_truck(terminator_ohms=np.array(terminators)[:, None], module_pin_farads=3.2e-9 / 8)
    assert Situation(trucks, KEY_ON).stations.bus.decay_s[0, 0] == pytest.approx(microseconds * 1e-6, rel=0.05)


def test_a_module_alone_repeats_without_acknowledgement_until_an_adapter_listens():
    # ISO 11898-1: a frame nobody acknowledges is repeated; error-passive, the sender is not taken off the bus by it
    trucks = textbook_truck(module_unpowered=~flags(0))
    assert activity(trucks) == "unacknowledged"
    share = float(trucks["unacknowledged_share"][0])
    assert Situation(trucks, KEY_ON).talk.share[0, 0] == share
    assert shows(trucks) == "frames"


def test_an_unpowered_module_is_missing_and_the_others_talk():
    view = Situation(textbook_truck(module_unpowered=flags(2)), OWN).adapter()
    assert SHOWS[view.shows[0]] == "frames"
    assert view.heard[:, 0].tolist() == [True, True, False, True, True, True, True, True]


def test_open_backbone_leaves_the_near_part_of_the_bus():
    cut = np.full((9, 1), NOTHING)
    cut[4] = OPEN
    view = Situation(textbook_truck(backbone_high_ohms=cut, backbone_low_ohms=cut), OWN).adapter()
    assert view.heard[:, 0].tolist() == [True] * 4 + [False] * 4


def test_a_module_with_its_lines_swapped_is_lost_alone():
    # published: not seen in DC or ohms; that node gives errors, the others are fine
    trucks = textbook_truck(module_swapped=flags(3))
    view = Situation(trucks, OWN).adapter()
    assert SHOWS[view.shows[0]] == "frames"
    assert not view.heard[3, 0]
    assert view.heard[:3].all()


def test_a_stuck_driver_holds_the_lines_dominant_and_nobody_talks():
    trucks = textbook_truck(module_stuck=flags(1))
    situation = Situation(trucks, KEY_ON)
    assert situation.volts("C", "A")[0] == pytest.approx(3.491, abs=0.01)  # the dominant levels of two terminators
    assert situation.volts("D", "A")[0] == pytest.approx(1.509, abs=0.01)
    assert shows(trucks) == "errors"
    assert shows(trucks, State(key="on", adapter="own", unplugged=frozenset({"module_2"}))) == "frames"


def test_the_wrong_bit_rate_shows_errors_and_the_right_one_frames():
    trucks = textbook_truck(bit_rate=500e3)
    assert shows(trucks, bit_rate=250e3) == "errors"
    assert shows(trucks, bit_rate=500e3) == "frames"


def test_swapped_pins_look_silent_to_a_listener():
    # dominant comes in negative, which every receiver takes for recessive (ISO 11898-2: not dominant below 0.5 V)
    assert shows(textbook_truck(swapped_cd=True)) == "silent"


@pytest.mark.parametrize(("fault", "seen"), [("adapter_dead", "no_power"), ("adapter_deaf", "silent")])
def test_a_bad_adapter_is_told_by_a_good_one(fault, seen):
    bad = np.array([[True], [False]])
    trucks = textbook_truck(**{fault: bad})
    assert shows(trucks) == seen
    assert shows(trucks, State(key="on", adapter="known_good")) == "frames"


def test_nothing_speaks_with_the_key_off():
    assert activity(textbook_truck(), State()) == "idle"
    assert shows(textbook_truck(), State(adapter="own")) == "silent"


def test_no_supply_at_the_connector_is_no_power():
    assert shows(textbook_truck(fuse_ohms=OPEN)) == "no_power"
    assert shows(textbook_truck(battery_emf_volts=4.0)) == "no_power"


def test_a_flat_battery_leaves_modules_dead():
    assert activity(textbook_truck(battery_emf_volts=5.0)) == "idle"


def test_an_adapter_that_does_not_report_errors_looks_silent():
    trucks = textbook_truck(module_stuck=flags(1), adapter_reports_errors=False)
    assert shows(trucks) == "silent"
