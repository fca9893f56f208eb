"""What lines show under each short: the textbook truck against published descriptions and figures worked out by hand.

The published side is a workshop manual's fault descriptions and a semiconductor maker's forum (TI E2E, thread
1451629) on which shorts stop traffic. The figures are the DC model's, worked out apart from this code: 5 V drivers
with 0.7 V of diode and 24 ohm a side, 10 nodes of 15 kohm a line, a short of 0.2 ohm, a bus dominant for 13.45 % of
the time (exact duty of a public truck capture).
"""

import numpy as np
import pytest
from circuit.textbook import textbook_truck

from linkcheck.circuit import Situation, State
from linkcheck.circuit.drive_phases import module_phases

KEY_ON = State(key="on")
DOMINANT_SHARE = 0.1345
SHORT = 0.2
MILLIVOLTS, HUNDREDTHS = 1.5e-3, 0.006  # half of the last digit that the figures are given with, and the meter's load


def lines(trucks):
    """(rest, driven, metered) volts of C and D against chassis, with the given dominant share."""
    situation = Situation(trucks, KEY_ON)
    phase = module_phases(situation.stations)
    rest = np.array([situation.resting_volts(cavity, "chassis")[0] for cavity in "CD"])
    driven = np.array([situation.driven_volts(phase, cavity, "chassis")[0, 0] for cavity in "CD"])
    return rest, driven, rest + DOMINANT_SHARE * (driven - rest)


@pytest.mark.parametrize(
    ("terminators", "extra", "driven", "metered", "within"),
    [
        ((120.0, 120.0), np.inf, (3.491, 1.509), (2.633, 2.367), MILLIVOLTS),
        ((120.0, np.inf), np.inf, (3.771, 1.229), (2.671, 2.329), MILLIVOLTS),
        ((120.0, 120.0), 120.0, (3.312, 1.688), (2.609, 2.391), MILLIVOLTS),
        ((np.inf, np.inf), np.inf, (4.27, 0.73), None, HUNDREDTHS),
    ],
    ids=["two terminators", "one", "three", "none"],
)
def test_levels_with_so_many_terminators(terminators, extra, driven, metered, within):
    places = np.full((9, 1), np.inf)
    places[0] = extra
    trucks = textbook_truck(terminator_ohms=np.array(terminators)[:, None], extra_terminator_ohms=places)
    rest, dominant, mean = lines(trucks)
    assert rest == pytest.approx([2.5, 2.5], abs=MILLIVOLTS)
    assert dominant == pytest.approx(driven, abs=within)
    if metered:
        assert mean == pytest.approx(metered, abs=MILLIVOLTS)


@pytest.mark.parametrize(
    ("ends", "ohms", "rest", "driven", "metered"),
    [
        (("C", "D"), SHORT, (2.5, 2.5), (2.507, 2.493), (2.50, 2.50)),
        (("C", "chassis"), SHORT, (0.00, 0.10), (0.04, 0.13), (0.01, 0.10)),
        (("D", "chassis"), SHORT, (0.10, 0.00), (3.07, 0.01), (0.50, 0.00)),
        (("C", "distribution"), SHORT, (12.6, 12.2), (12.6, 4.1), None),
        (("D", "distribution"), SHORT, (12.2, 12.6), (12.1, 12.5), (12.2, 12.6)),
        (("C", "chassis"), 1000.0, (1.42, 1.46), (3.43, 1.49), (1.69, 1.46)),
    ],
    ids=["H to L", "H to ground", "L to ground", "H to battery", "L to battery", "H to ground by 1 kohm"],
)
def test_levels_with_this_short(ends, ohms, rest, driven, metered):
    battery = "distribution" in ends
    found = lines(textbook_truck().bridged(*ends, ohms))
    assert found[0] == pytest.approx(rest, abs=0.05 if battery else HUNDREDTHS)
    assert found[1] == pytest.approx(driven, abs=0.05 if battery else HUNDREDTHS)
    if metered:
        assert found[2] == pytest.approx(metered, abs=0.05 if battery else HUNDREDTHS)


@pytest.mark.parametrize(("limit", "low_line"), [(0.040, 10.2), (0.100, 6.6)])
def test_current_limit_decides_how_far_low_falls_with_high_on_the_battery(limit, low_line):
    # 12.6 V less 60 ohm times 40 or 100 mA (NXP TJA1051 data sheet rev. 7, table 7)
    trucks = textbook_truck(module_low_limit_amps=limit, module_input_ohms=np.inf).bridged("C", "distribution", SHORT)
    assert lines(trucks)[1][1] == pytest.approx(low_line, abs=0.03)


def test_high_on_24_volts_rests_dominant():
    # 0.87 V between the lines is above the 0.5 V that a receiver takes for recessive (ISO 11898-2)
    rest = lines(textbook_truck(system_volts=24.0).bridged("C", "distribution", SHORT))[0]
    assert rest == pytest.approx([25.2, 24.3], abs=0.06)
    assert rest[0] - rest[1] == pytest.approx(0.87, abs=0.01)


def test_low_on_ground_leaves_about_three_volts_on_high():
    # published: high peaks at about 3.0 V and falls to 0 V
    rest, driven, _ = lines(textbook_truck().bridged("D", "chassis", SHORT))
    assert driven[0] == pytest.approx(3.0, abs=0.1)
    assert rest[0] == pytest.approx(0.0, abs=0.15)


def test_meter_on_a_busy_bus_shows_the_mean_that_a_capture_predicts():
    # 2.5 V and 1.0 V of swing a line for 13.45 % of the time: 2.634, 2.366 and 0.269 V, five volts together
    situation = Situation(textbook_truck(busy_share=DOMINANT_SHARE), KEY_ON)
    high, low, across = (situation.volts(*pair)[0] for pair in (("C", "A"), ("D", "A"), ("C", "D")))
    assert (high, low, across) == pytest.approx((2.634, 2.366, 0.269), abs=0.0035)
    assert high + low == pytest.approx(5.0, abs=0.002)


@pytest.mark.parametrize(
    ("input_ohms", "volts"), [(12e3, 3.593), (48e3, 4.554), (96e3, 4.767)], ids=["one load", "quarter", "eighth"]
)
def test_idle_j1708_plus_line_stands_where_pull_up_and_receiver_leave_it(input_ohms, volts):
    # 5 V * R / (R + 4.7 kohm); pull-up of an open-hardware J1708 schematic
    fitted = np.zeros((8, 1), bool)
    fitted[0] = True
    trucks = textbook_truck(module_j1708_fitted=fitted, module_j1708_input_ohms=input_ohms)
    situation = Situation(trucks, KEY_ON)
    assert situation.volts("F", "A")[0] == pytest.approx(volts, abs=0.003)
    assert situation.volts("G", "A")[0] == pytest.approx(0.0, abs=0.001)
