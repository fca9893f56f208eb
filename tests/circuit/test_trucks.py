"""Sampled trucks stay inside what standards and data sheets allow, and faults turn what they say."""

import numpy as np
import pytest
from circuit.textbook import textbook_truck
from listed_faults import LISTED

from linkcheck.circuit import (
    KNOBS,
    OPEN,
    PARAMETERS,
    Equipment,
    Situation,
    State,
    cavity_of_role,
    sample_trucks,
    turn,
)
from linkcheck.errors import UsageError

MANY = 800
KEY_ON = State(key="on")
BATTERY_OFF = State(battery="disconnected")


@pytest.fixture(scope="module", params=[12.0, 24.0])
def trucks(request):
    return sample_trucks(np.random.default_rng(11), MANY, Equipment(system_volts=request.param))


def test_every_parameter_has_a_source_or_is_the_absence_of_a_fault():
    unsourced = [row.name for row in PARAMETERS.values() if not row.source and row.unit not in ("flag", "index")]
    faults = {"extra_terminator_ohms", "adapter_terminator_ohms", "bit_rate"}
    assert {name for name in unsourced if "leak" not in name} == faults


def test_two_terminators_read_inside_the_published_outer_band(trucks):
    # 54 to 69 ohm: a maker's manual; leads not counted
    ohms = Situation(trucks, BATTERY_OFF).ohms("C", "D")
    assert np.mean((ohms >= 54.0) & (ohms <= 69.0)) > 0.98
    assert 58.0 < np.median(ohms) < 61.0


def test_awake_modules_rest_between_two_and_three_volts(trucks):
    # NXP TJA1051 data sheet rev. 7, table 7: 2.0 to 3.0 V, with none in standby
    awake = Situation(trucks.changed(module_standby=False), KEY_ON)
    for cavity in "CD":
        rest = awake.resting_volts(cavity, "chassis")
        assert rest.min() > 2.0
        assert rest.max() < 3.0


def test_a_busy_bus_reads_inside_the_trade_s_band(trucks):
    # C 2.5 to 2.8 V and D 2.2 to 2.5 V: common practice, no source; standby modules take some trucks out of it
    awake = Situation(trucks.changed(module_standby=False), KEY_ON)
    high, low = awake.volts("C", "A"), awake.volts("D", "A")
    assert np.mean((high > 2.4) & (high < 2.9)) > 0.95
    assert np.mean((low > 2.1) & (low < 2.6)) > 0.95


def test_j1708_rests_high_on_plus_and_low_on_minus(trucks):
    # F 2.5 to 5 V, G 0 to 2.5 V: common practice, no source
    situation = Situation(trucks, KEY_ON)
    plus, minus = situation.volts("F", "A"), situation.volts("G", "A")
    # but where most modules sleep, and load the pair
    assert np.mean((plus > 2.5) & (plus < 5.0)) > 0.9
    assert np.mean((minus > -0.2) & (minus < 2.5)) > 0.98
    assert np.mean(plus - minus > 0.2) > 0.98


def test_a_dead_j1708_pair_is_neither_shorted_nor_terminated(trucks):
    # not shorted (over some 100 ohm) and not 60 ohm: follows from 4.7 kohm pulls and 47 ohm in series
    assert Situation(trucks, BATTERY_OFF).ohms("F", "G").min() > 100.0


def test_battery_volts_are_those_of_a_sound_battery(trucks):
    # at rest 12.0 V a quarter full, 12.6 V full, more when fresh off charge (a published table)
    volts = Situation(trucks, State()).volts("B", "A") / (trucks["battery_emf_volts"].max() / 12.85)
    assert volts.min() > 11.9
    assert volts.max() < 12.95


def test_sound_trucks_talk(trucks):
    view = Situation(trucks, State(key="on", adapter="known_good")).adapter()
    assert np.mean(view.shows == 3) > 0.99
    assert view.heard.sum() / trucks["module_present"].sum() > 0.9


def test_the_same_seed_gives_the_same_trucks():
    first, second = (sample_trucks(np.random.default_rng(3), 4) for _ in range(2))
    assert all((first[name] == second[name]).all() for name in PARAMETERS)


def test_trucks_differ_in_size_and_layout(trucks):
    assert set(np.unique(trucks["module_present"].sum(axis=0))) == set(range(3, 9))
    assert set(np.unique(trucks["stub_at"])) == set(range(8))
    assert (trucks["stub_at"] < trucks["module_present"].sum(axis=0)).all()


def test_what_the_technician_knows_of_the_truck_is_kept():
    known = Equipment(j1708=False, shield=True, second_can=False, bit_rate=500e3, modules=5)
    trucks = sample_trucks(np.random.default_rng(3), 50, known)
    assert not trucks["module_j1708_fitted"].any()
    assert trucks["shield_fitted"].all()
    assert not trucks["can2_fitted"].any()
    assert (trucks["bit_rate"] == 500e3).all()
    assert (trucks["module_present"].sum(axis=0) == 5).all()


@pytest.mark.parametrize("wrong", [{"system_volts": 36.0}, {"modules": 2}, {"modules": 9}])
def test_impossible_equipment_is_refused(wrong):
    with pytest.raises(UsageError):
        Equipment(**wrong)


def test_unknown_parameters_nodes_and_states_are_refused():
    trucks = textbook_truck()
    with pytest.raises(UsageError, match="no such parameter"):
        trucks.changed(fuse_volts=1.0)
    with pytest.raises(UsageError, match="two different nodes"):
        trucks.bridged("C.wier", "chassis", 1.0)
    with pytest.raises(UsageError, match="above zero"):
        trucks.changed(fuse_ohms=0.0)
    with pytest.raises(UsageError, match="battery"):
        State(battery="flat")
    with pytest.raises(UsageError, match="unplugged"):
        State(unplugged=frozenset({"module_9"}))


def test_parallel_bridges_add_their_conductance():
    trucks = textbook_truck().bridged("C", "D", 100.0).bridged("D", "C", 100.0)
    assert trucks.bridges["C", "D"][0] == pytest.approx(50.0)


def test_every_fault_of_the_list_has_a_knob():
    assert {"none", *LISTED} <= set(KNOBS)


@pytest.mark.parametrize("fault", sorted(set(KNOBS) - {"none"}))
def test_each_knob_changes_some_reading_of_every_truck_that_can_have_it(fault):
    """A fault that no reading sees is not a fault that a meter can find."""
    equipment = Equipment(shield=True, second_can=True, modules=6)
    sound = sample_trucks(np.random.default_rng(8), 20, equipment)
    sound = sound.changed(module_j1708_fitted=sound["module_present"], adapter_reports_errors=True, busy_share=0.1)
    faulty = turn(sound, KNOBS[fault], np.random.default_rng(9)).trucks
    assert _differs(sound, faulty).mean() > 0.85


def _differs(sound, faulty):
    changed = np.zeros(len(sound), bool)
    states = [
        (State(), (("B", "A"), ("battery_positive", "battery_negative"), ("battery_positive", "chassis"))),
        (KEY_ON, tuple((cavity, "chassis") for cavity in "ABCDEFGHJ")),
        (BATTERY_OFF, (("C", "D"), ("C", "A"), ("D", "A"), ("F", "A"), ("G", "A"), ("F", "G"), ("B", "A"), ("E", "A"),
                       ("H", "J"), ("fuse_in", "fuse_out"), ("B", "C"), ("B", "D"), ("terminator_1.high", "D"),
                       ("terminator_2.high", "D"), ("terminator_2.low", "C"), ("terminator_1.a", "terminator_1.b"))),
        (State(key="on", adapter="own"), (("B.wire", "A.wire"), ("battery_positive", "B.wire"), ("C.wire", "D.wire"))),
        *((State(battery="disconnected", unplugged=frozenset({f"module_{k}"})), (("C", "D"), ("C", "A"), ("D", "A")))
          for k in range(1, 7)),
    ]  # fmt: skip
    for state, pairs in states:
        before, after = Situation(sound, state), Situation(faulty, state)
        for pair in pairs:
            old, new = (x.ohms(*pair) if state.dead else x.volts(*pair) for x in (before, after))
            step = 0.2 if state.dead else 0.01
            both_open = np.isinf(old) & np.isinf(new)
            changed |= ~both_open & ~(np.abs(np.where(both_open, 0.0, new) - np.where(both_open, 0.0, old)) < step)
    for rate in (250e3, 500e3):
        old, new = (Situation(x, State(key="on", adapter="own")).adapter(rate) for x in (sound, faulty))
        changed |= (old.shows != new.shows) | (old.heard != new.heard).any(axis=0)
    return changed


def test_a_knob_tells_what_it_chose():
    sound = sample_trucks(np.random.default_rng(8), 60)
    turned = turn(sound, KNOBS["module_leakage"], np.random.default_rng(9))
    leaks = np.stack([turned.trucks[f"module_leak_{where}_ohms"] for where in ("high", "low", "across")])
    rows = np.arange(60)
    np.testing.assert_array_equal(leaks[turned.way, turned.place, rows], turned.severity)
    assert (np.isfinite(leaks).sum(axis=(0, 1)) == 1).all()
    assert (turned.place < sound["module_present"].sum(axis=0)).all()


def test_severity_can_be_given():
    sound = sample_trucks(np.random.default_rng(8), 5)
    turned = turn(sound, KNOBS["ground_open"], np.random.default_rng(9), severity=OPEN)
    assert np.isinf(turned.severity).all()


def test_two_faults_are_two_turns():
    sound = sample_trucks(np.random.default_rng(8), 5)
    rng = np.random.default_rng(9)
    both = turn(
        turn(sound, KNOBS["terminators_missing"], rng).trucks, KNOBS["feed_fuse_open"], rng, severity=OPEN
    ).trucks
    assert np.isinf(both["terminator_ohms"]).all()
    assert np.isinf(both["fuse_ohms"]).all()


@pytest.mark.parametrize(
    ("role", "network", "cavity"),
    [("can_high", 1, "C"), ("can_low", 2, "J"), ("battery_positive", None, "B"), ("unused", None, None)],
)
def test_roles_of_any_connector_map_to_the_circuit_s_letters(role, network, cavity):
    # SAE J1939-13: A battery negative, B battery positive, C and D CAN high and low, H and J a second pair
    assert cavity_of_role(role, network) == cavity
