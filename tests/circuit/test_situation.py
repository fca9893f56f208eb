"""Readings in each state: what turning, pulling and unplugging does to a truck."""

import math

import numpy as np
import pytest
from circuit.textbook import NOTHING, textbook_truck
from hypothesis import given, settings
from hypothesis import strategies as st

from linkcheck.circuit import (
    KNOBS,
    OPEN,
    POINTS,
    Equipment,
    Instrument,
    Measurement,
    Situation,
    State,
    adapter_sees,
    concatenate,
    measure,
    read_ohms,
    read_volts,
    sample_trucks,
    turn,
)
from linkcheck.errors import UsageError

KEY_OFF, KEY_ON = State(), State(key="on")
BATTERY_OFF = State(battery="disconnected")
OWN = State(key="on", adapter="own")


def one(situation, red, black):
    return situation.volts(red, black)[0]


def test_connector_shows_battery_volts_with_the_key_off():
    situation = Situation(textbook_truck(), KEY_OFF)
    assert one(situation, "B", "A") == pytest.approx(12.6, abs=0.001)
    assert one(situation, "A", "B") == pytest.approx(-12.6, abs=0.001)


def test_twenty_four_volts_are_two_batteries():
    assert read_volts(textbook_truck(system_volts=24.0), KEY_OFF, "B", "A")[0] == pytest.approx(25.2, abs=0.002)


def test_lines_of_a_sleeping_bus_are_at_ground_and_of_a_waking_one_at_half_of_five_volts():
    # standby, bias removed: -0.1 to 0.1 V (TI TCAN1145-Q1 data sheet SLLSF80B); awake 2.0 to 3.0 V (NXP TJA1051)
    keep = {"module_keep_alive": True}
    asleep = Situation(textbook_truck(**keep), KEY_OFF)
    late = Situation(textbook_truck(**keep, module_biased_asleep=True), KEY_OFF)
    assert one(asleep, "C", "A") == pytest.approx(0.0, abs=0.1)
    assert one(late, "C", "A") == pytest.approx(2.5, abs=0.01)


def test_a_dead_key_supply_wakes_nothing():
    situation = Situation(textbook_truck(key_supply_dead=True), KEY_ON)
    assert one(situation, "C", "A") == pytest.approx(0.0, abs=0.1)
    assert not situation.supply.awake.any()


def test_standby_modules_pull_the_others_down():
    # three of eight asleep at ground beside five at 2.5 V through equal resistances: 2.5 * 5 / 8
    standby = np.zeros((8, 1), bool)
    standby[:3] = True
    rest = Situation(textbook_truck(module_standby=standby), KEY_ON).resting_volts("C", "chassis")[0]
    assert rest == pytest.approx(2.5 * 5 / 8, abs=0.002)


def test_pulled_fuse_and_disconnected_battery_take_the_volts_away():
    assert read_volts(textbook_truck(), State(fuse="pulled"), "B", "A")[0] == pytest.approx(0.0, abs=0.001)
    off = Situation(textbook_truck(), BATTERY_OFF)
    assert one(off, "B", "A") == pytest.approx(0.0, abs=0.001)
    assert one(off, "battery_positive", "battery_negative") == pytest.approx(12.6, abs=0.001)


def test_a_poor_ground_shows_only_under_the_adapter_s_load():
    # Ohm: 12.6 V over 24 ohm of adapter and 5 ohm of ground
    trucks = textbook_truck(ground_wire_ohms=5.0, adapter_load_ohms=24.0)
    assert one(Situation(trucks, KEY_ON), "A.wire", "chassis") == pytest.approx(0.0, abs=0.001)
    loaded = Situation(trucks, OWN)
    assert one(loaded, "A.wire", "chassis") == pytest.approx(12.6 * 5 / 29, abs=0.005)
    assert loaded.adapter().supply_volts[0] == pytest.approx(12.6 * 24 / 29, abs=0.005)


def test_one_strand_reads_full_volts_and_feeds_no_adapter():
    # open-circuit volts prove little: common practice, no source
    trucks = textbook_truck(feed_wire_ohms=50.0, adapter_load_ohms=24.0)
    assert read_volts(trucks, KEY_ON, "B", "A")[0] == pytest.approx(12.6, abs=0.01)
    assert adapter_sees(trucks, OWN).shows[0] == 0  # no power


def test_a_broken_wire_floats_and_reads_nothing():
    situation = Situation(textbook_truck(stub_high_ohms=OPEN), KEY_ON)
    assert one(situation, "C", "A") == pytest.approx(0.0, abs=0.01)
    assert one(situation, "D", "A") > 2.0


def test_meter_of_ten_megohms_loads_a_weak_line_by_its_share():
    # one module of 15 kohm a line: 15e3 / (10e6 + 15e3), 0.15 % low
    alone = np.zeros((8, 1), bool)
    alone[0] = True
    trucks = textbook_truck(module_present=alone, module_input_ohms=15e3, terminator_ohms=OPEN)
    rest = Situation(trucks, KEY_ON).resting_volts("C", "chassis")[0]
    assert rest == pytest.approx(2.5 * 10e6 / (10e6 + 15e3), abs=1e-4)


def test_swapped_wires_read_as_each_other():
    straight, crossed = (Situation(textbook_truck(swapped_cd=x), KEY_ON) for x in (False, True))
    for first, second in (("C", "D"), ("D", "C"), ("C.wire", "D.wire")):
        assert one(crossed, first, "A") == pytest.approx(one(straight, second, "A"), abs=1e-6)


def test_adapter_terminator_shows_in_ohms_nowhere_and_in_dominant_volts_on_the_bus():
    """It is only there while the adapter is plugged in, when ohms are not taken."""
    trucks = textbook_truck(adapter_terminator_ohms=120.0)
    assert read_ohms(trucks, BATTERY_OFF, "C", "D")[0] == pytest.approx(58.82, abs=0.01)
    swing = [one(Situation(trucks, State(key="on", adapter=x)), "C.wire", "D.wire") for x in ("unplugged", "own")]
    assert swing[1] < 0.95 * swing[0]


def test_second_pair_has_its_own_two_terminators():
    trucks = textbook_truck(can2_input_ohms=15e3)
    assert read_ohms(trucks, BATTERY_OFF, "H", "J")[0] == pytest.approx(1 / (1 / 60 + 1 / 30e3), abs=0.01)
    assert read_volts(trucks, KEY_ON, "H", "A")[0] == pytest.approx(2.5 + float(trucks["can2_share"][0]), abs=0.02)


def test_measure_takes_all_readings_in_the_order_asked():
    trucks = sample_trucks(np.random.default_rng(4), 5)
    found = measure(
        trucks,
        [
            Measurement(BATTERY_OFF, "ohms", "C", "D"),
            Measurement(KEY_ON, "dc_volts", "C", "A"),
            Measurement(OWN, "listen"),
            Measurement(OWN, "heard"),
            Measurement(KEY_ON, "dc_volts", "D", "A"),
        ],
    )
    assert found.shape == (5, 5)
    np.testing.assert_array_equal(found[0], read_ohms(trucks, BATTERY_OFF, "C", "D"))
    np.testing.assert_array_equal(found[1], read_volts(trucks, KEY_ON, "C", "A"))
    np.testing.assert_array_equal(found[2], adapter_sees(trucks, OWN).shows)
    np.testing.assert_array_equal(found[3], adapter_sees(trucks, OWN).heard.sum(axis=0))
    np.testing.assert_array_equal(found[4], read_volts(trucks, KEY_ON, "D", "A"))


def test_unknown_points_and_missing_adapters_are_refused():
    situation = Situation(textbook_truck(), KEY_ON)
    with pytest.raises(UsageError, match="no such point"):
        situation.volts("K", "A")
    with pytest.raises(UsageError, match="no adapter"):
        situation.adapter()


# Laws that hold for any truck, with any fault, in any state --------------------------------------------------------

trucks_with_faults = st.builds(
    lambda seed, fault, volts: (
        turn(
            sample_trucks(np.random.default_rng(seed), 3, Equipment(system_volts=volts)),
            KNOBS[fault],
            np.random.default_rng(seed),
        ).trucks
    ),
    st.integers(0, 10_000),
    st.sampled_from(sorted(KNOBS)),
    st.sampled_from([12.0, 24.0]),
)
states = st.builds(
    State,
    key=st.sampled_from(["on", "off"]),
    battery=st.sampled_from(["connected", "disconnected"]),
    adapter=st.sampled_from(["unplugged", "own", "known_good"]),
    fuse=st.sampled_from(["in", "pulled"]),
    unplugged=st.sets(st.sampled_from(["terminator_1", "terminator_2", "module_1", "module_2", "drain"]), max_size=2),
)
points = st.sampled_from(POINTS)
NO_LOAD = Instrument(input_ohms=math.inf)
BELOW_DIODES = Instrument(test_volts=0.3)


@settings(max_examples=40, deadline=None)
@given(trucks_with_faults, states, points, points)
def test_leads_reversed_read_the_negative(trucks, state, red, black):
    situation = Situation(trucks, state)
    np.testing.assert_allclose(situation.volts(red, black), -situation.volts(black, red), atol=1e-9)


@settings(max_examples=40, deadline=None)
@given(trucks_with_faults, states, points, points, points)
def test_volts_add_up_around_a_loop(trucks, state, a, b, c):
    """Kirchhoff's second law, with a meter that draws nothing."""
    situation = Situation(trucks, state, NO_LOAD)
    around = situation.volts(a, b) + situation.volts(b, c) + situation.volts(c, a)
    np.testing.assert_allclose(around, 0.0, atol=1e-6)


@settings(max_examples=40, deadline=None)
@given(trucks_with_faults, states, points, points)
def test_ohms_of_a_dead_truck_do_not_care_which_lead_is_red(trucks, state, red, black):
    """Reciprocity, below the volts at which diodes conduct and away from the battery's own posts."""
    if "battery" in red + black:
        return
    dead = State(battery="disconnected", adapter="unplugged", fuse=state.fuse, unplugged=state.unplugged)
    situation = Situation(trucks, dead, BELOW_DIODES)
    np.testing.assert_allclose(situation.ohms(red, black), situation.ohms(black, red), rtol=1e-4, atol=1e-4)


@settings(max_examples=40, deadline=None)
@given(trucks_with_faults, points, points, st.floats(0.1, 1e5))
def test_a_leak_never_raises_ohms(trucks, a, b, ohms):
    """Rayleigh: a resistor more lowers every resistance or leaves it."""
    if a == b:
        return
    before, after = (
        Situation(some, BATTERY_OFF).network.between("C", "D") for some in (trucks, trucks.bridged(a, b, ohms))
    )
    assert (after <= before * (1 + 1e-6) + 1e-6).all()


@settings(max_examples=15, deadline=None)
@given(trucks_with_faults, states, points, points)
def test_a_truck_reads_the_same_alone_and_among_others(trucks, state, red, black):
    alone = np.concatenate([read_volts(trucks.take([k]), state, red, black) for k in range(len(trucks))])
    np.testing.assert_allclose(read_volts(trucks, state, red, black), alone, rtol=1e-9, atol=1e-9)


@settings(max_examples=15, deadline=None)
@given(trucks_with_faults, trucks_with_faults, states)
def test_batches_put_together_read_as_each_did(first, second, state):
    both = read_volts(concatenate(first, second), state, "C", "A")
    each = [read_volts(some, state, "C", "A") for some in (first, second)]
    np.testing.assert_allclose(both, np.concatenate(each), rtol=1e-6, atol=1e-6)


def test_nothing_is_the_figure_the_textbook_truck_is_made_with():
    assert float(textbook_truck()["feed_wire_ohms"][0]) == NOTHING
