"""Ohms between C and D, and on the rest of the truck with the battery off, against published figures and arithmetic."""

import math

import numpy as np
import pytest
from circuit.textbook import textbook_truck

from linkcheck.circuit import OPEN, Instrument, Situation, State
from linkcheck.circuit.wires import wire_ohms_per_metre

BATTERY_OFF = State(battery="disconnected")


def bus_ohms(nodes, across, terminators, extra=OPEN):
    """C to D with so many nodes of a differential input resistance, and these terminators."""
    line = across / 2 * 8 / nodes if nodes else OPEN
    places = np.full((9, 1), OPEN)
    places[0] = extra
    trucks = textbook_truck(
        module_input_ohms=line,
        terminator_ohms=np.array(terminators, float)[:, None],
        extra_terminator_ohms=places,
    )
    return Situation(trucks, BATTERY_OFF).ohms("C", "D")[0]


TWO, ONE, NONE = (120.0, 120.0), (120.0, OPEN), (OPEN, OPEN)


@pytest.mark.parametrize(
    ("nodes", "across", "two", "one", "three", "none"),
    [
        (0, 30e3, 60.00, 120.0, 40.00, math.inf),
        (5, 30e3, 59.41, 117.65, 39.74, 6.0e3),
        (10, 19e3, 58.16, 112.87, 39.18, 1.9e3),
        (10, 30e3, 58.82, 115.38, 39.47, 3.0e3),
        (10, 52e3, 59.32, 117.29, 39.69, 5.2e3),
        (30, 30e3, 56.60, 107.14, 38.46, 1.0e3),
        (30, 10e3, 50.85, 88.24, 35.71, 333.3),
    ],
)
def test_ohms_with_nodes_beside_the_terminators(nodes, across, two, one, three, none):
    # 60 ohm beside N times the differential input resistance (19, 30, 52 kohm: NXP TJA1051; 10 kohm: ISO 11898-2)
    assert bus_ohms(nodes, across, TWO) == pytest.approx(two, abs=0.006)
    assert bus_ohms(nodes, across, ONE) == pytest.approx(one, abs=0.006)
    assert bus_ohms(nodes, across, TWO, extra=120.0) == pytest.approx(three, abs=0.006)
    assert bus_ohms(nodes, across, NONE) == pytest.approx(none, rel=1e-3)


@pytest.mark.parametrize(("each", "together"), [(100.0, 50.0), (110.0, 55.0), (130.0, 65.0)])
def test_terminators_at_their_limits(each, together):
    # ISO 11898-2:2003, 7.5.2: 100 to 130 ohm; SAE J1939-11: 110 to 130 ohm
    assert bus_ohms(0, 1.0, (each, each)) == pytest.approx(together, abs=0.001)


def test_forty_metres_of_18_awg_measured_at_one_end():
    # 120 ohm beside 120 + 2 * 40 m * 20.95 ohm/km = 60.416 ohm
    far = np.full((9, 1), 1e-7)
    far[8] = wire_ohms_per_metre(18) * 40.0
    trucks = textbook_truck(module_input_ohms=OPEN, backbone_high_ohms=far, backbone_low_ohms=far)
    assert Situation(trucks, BATTERY_OFF).ohms("C", "D")[0] == pytest.approx(60.416, abs=0.002)


def test_shorted_pair_reads_the_short():
    # published: 0.2 to 0.5 ohm with the leads
    trucks = textbook_truck().bridged("C", "D", 0.2)
    assert Situation(trucks, BATTERY_OFF).ohms("C", "D")[0] == pytest.approx(0.2, abs=0.001)


def test_open_backbone_reads_120_ohm_from_either_side():
    # published: an open trunk reads 120 ohm from each side
    cut = np.full((9, 1), 1e-7)
    cut[4] = OPEN
    trucks = textbook_truck(module_input_ohms=OPEN, backbone_high_ohms=cut, backbone_low_ohms=cut)
    situation = Situation(trucks, BATTERY_OFF)
    for end in ("terminator_1", "terminator_2"):
        assert situation.ohms(f"{end}.high", f"{end}.low")[0] == pytest.approx(120.0, abs=0.01)


def test_one_open_line_of_the_backbone_hides_its_terminator_as_well():
    cut = np.full((9, 1), 1e-7)
    cut[4] = OPEN
    trucks = textbook_truck(module_input_ohms=OPEN, backbone_high_ohms=cut)
    assert Situation(trucks, BATTERY_OFF).ohms("C", "D")[0] == pytest.approx(120.0, abs=0.01)


def test_terminator_taken_off_reads_itself_and_leaves_the_other():
    trucks = textbook_truck(module_input_ohms=OPEN)
    situation = Situation(trucks, State(battery="disconnected", unplugged=frozenset({"terminator_1"})))
    assert situation.ohms("terminator_1.a", "terminator_1.b")[0] == pytest.approx(120.0, abs=0.01)
    assert situation.ohms("terminator_1.high", "terminator_1.low")[0] == pytest.approx(120.0, abs=0.01)
    assert situation.ohms("terminator_1.high", "terminator_1.a")[0] == math.inf


def test_broken_wire_reads_open_from_the_mating_side_and_a_backed_out_terminal_from_the_wire_side_too():
    broken = Situation(textbook_truck(stub_high_ohms=OPEN, module_input_ohms=OPEN), BATTERY_OFF)
    assert broken.ohms("C", "C.wire")[0] < 0.01
    contacts = np.full((9, 1), 1e-7)
    contacts[2] = OPEN
    backed_out = Situation(textbook_truck(contact_ohms=contacts, module_input_ohms=OPEN), BATTERY_OFF)
    assert backed_out.ohms("C", "D")[0] == math.inf
    assert backed_out.ohms("C.wire", "D.wire")[0] == pytest.approx(60.0, abs=0.01)


def test_unplugging_the_leaking_module_clears_the_line():
    # unplug modules one at a time, watching ohms: common practice, no source
    leaks = np.full((8, 1), OPEN)
    leaks[2] = 330.0
    trucks = textbook_truck(module_leak_low_ohms=leaks)
    ohms = {
        name: Situation(trucks, State(battery="disconnected", unplugged=frozenset({name}))).ohms("D", "chassis")[0]
        for name in ("module_1", "module_3")
    }
    assert ohms["module_1"] == pytest.approx(330.0, rel=0.01)
    assert ohms["module_3"] > 1e5


def test_lifting_the_drain_tells_a_short_to_the_shield_from_one_to_ground():
    lifted = State(battery="disconnected", unplugged=frozenset({"drain"}))
    to_shield, to_ground = (textbook_truck().bridged("D.wire", place, 1.0) for place in ("shield", "chassis"))
    for trucks in (to_shield, to_ground):
        assert Situation(trucks, BATTERY_OFF).ohms("D", "A")[0] == pytest.approx(1.0, abs=0.01)
    assert Situation(to_shield, lifted).ohms("D", "A")[0] > 1e5
    assert Situation(to_ground, lifted).ohms("D", "A")[0] == pytest.approx(1.0, abs=0.01)


def test_low_test_volts_do_not_open_the_electronics_diodes():
    # A silicon diode conducts from about 0.6 V: an ohmmeter below that sees only what lies beside it.
    trucks = textbook_truck(
        loads_key_off_ohms=1e4, loads_key_on_ohms=1e4, electronics_ohms=200.0, electronics_drop_volts=0.6
    )
    ohms = {
        volts: Situation(trucks, BATTERY_OFF, Instrument(test_volts=volts)).ohms("B", "A")[0] for volts in (0.5, 3.0)
    }
    assert ohms[0.5] == pytest.approx(1e4, rel=1e-3)
    assert ohms[3.0] < 5e3
    backwards = Situation(trucks, BATTERY_OFF, Instrument(test_volts=3.0)).ohms("A", "B")[0]
    assert backwards == pytest.approx(1e4, rel=1e-3)


def test_ohms_on_a_live_bus_lie_and_change_with_the_leads_reversed():
    # 100 to 200 mV of residue is enough, and reversed leads show it: common practice, no source
    situation = Situation(textbook_truck(module_bias_volts=0.15), State(key="on"))
    forth, back = (situation.ohms(*pair)[0] for pair in (("C", "A"), ("A", "C")))
    assert not math.isclose(forth, back, rel_tol=0.1)
