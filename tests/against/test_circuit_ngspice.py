"""Readings of random trucks, sound and faulty, against ngspice.

The netlists come from `spice_truck`, which shares no code with the circuit's networks, solver, drivers or hearing.
Tolerances are a meter's resolution: 1 mV or 0.1 %, 0.1 ohm or 0.2 %.
"""

import numpy as np
import pytest
from against.spice_truck import NGSPICE, Ask, Plain, Untidy, read

from linkcheck.circuit import KNOBS, POINTS, SHOWS, Equipment, Situation, State, sample_trucks, turn
from linkcheck.circuit.drive_phases import module_phases

pytestmark = pytest.mark.skipif(NGSPICE is None, reason="ngspice is not installed (Debian: apt-get install ngspice)")

CASES = 220  # random truck, fault and state; four readings each
KEY_ON, BATTERY_OFF = State(key="on"), State(battery="disconnected")
STATES = (
    KEY_ON,
    State(),
    BATTERY_OFF,
    State(battery="disconnected", fuse="pulled"),
    State(key="on", fuse="pulled"),
    State(key="on", adapter="own"),
    State(key="on", adapter="known_good"),
    State(adapter="own"),
    State(key="on", unplugged=frozenset({"module_2"})),
    State(key="on", unplugged=frozenset({"terminator_1", "terminator_2"})),
    State(battery="disconnected", unplugged=frozenset({"terminator_1"})),
    State(battery="disconnected", unplugged=frozenset({"terminator_2", "module_1", "module_3"})),
    State(battery="disconnected", unplugged=frozenset({"drain"})),
)
USUAL = (("C", "A"), ("D", "A"), ("C", "D"), ("F", "A"), ("G", "A"), ("B", "A"), ("B.wire", "A.wire"), ("E", "A"))


def random_truck(rng, fault):
    """One truck with one fault, of equipment drawn as well."""
    equipment = Equipment(
        system_volts=float(rng.choice([12.0, 24.0])), j1708=None, bit_rate=float(rng.choice([250e3, 500e3]))
    )
    return turn(sample_trucks(rng, 1, equipment), KNOBS[fault], rng).trucks


def random_pair(rng):
    if rng.random() < 0.5:
        return USUAL[rng.integers(len(USUAL))]
    return tuple(rng.choice(POINTS, 2, replace=False))


def agrees(found, expected, quantity):
    if np.isinf(expected) or np.isinf(found):
        return np.isinf(expected) and np.isinf(found)
    absolute, relative = (0.1, 2e-3) if quantity == "ohms" else (1e-3, 1e-3)
    return abs(found - expected) <= max(absolute, relative * abs(expected))


def test_volts_ohms_and_what_the_adapter_shows_agree_on_random_trucks():
    rng = np.random.default_rng(20)
    jobs, found, labels = [], [], []
    for case in range(CASES):
        fault = list(KNOBS)[case % len(KNOBS)]
        trucks = random_truck(rng, fault)
        state = STATES[rng.integers(len(STATES))]
        situation, plain = Situation(trucks, state), Plain.of(trucks, 0)
        quantity = "ohms" if state.dead else "dc_volts"
        for _ in range(4):
            red, black = random_pair(rng)
            jobs.append((plain, Ask(state, red, black, quantity)))
            found.append((situation.ohms if state.dead else situation.volts)(red, black)[0])
            labels.append((fault, state, red, black))
        if state.plugged_adapter:
            view = situation.adapter(250e3)
            jobs.append((plain, Ask(state, quantity="listen", bit_rate=250e3)))
            found.append((SHOWS[view.shows[0]], (np.flatnonzero(view.heard[:, 0]) + 1).tolist()))
            labels.append((fault, state, "listen"))
    wrong = []
    for (_, ask), mine, spice, label in zip(jobs, found, read(jobs), labels, strict=True):
        same = mine == spice if ask.quantity == "listen" else agrees(mine, spice, ask.quantity)
        if not same:
            wrong.append((*label, mine, spice))
    assert not wrong, wrong[:5]


def test_resting_and_dominant_volts_agree_module_by_module():
    rng = np.random.default_rng(21)
    jobs, found, labels = [], [], []
    faults = [name for name in KNOBS if name.startswith(("none", "term", "short:can", "stub", "backbone", "module_"))]
    for fault in faults:
        trucks = random_truck(rng, fault)
        situation, plain = Situation(trucks, KEY_ON), Plain.of(trucks, 0)
        phase = module_phases(situation.stations)
        for red, black in (("C", "A"), ("D", "A"), ("terminator_2.high", "terminator_2.low")):
            jobs.append((plain, Ask(KEY_ON, red, black, "phases")))
            driven = situation.driven_volts(phase, red, black)[:, 0]
            found.append(
                {"rest": situation.resting_volts(red, black)[0]} | {f"m{k}": volts for k, volts in enumerate(driven)}
            )
            labels.append((fault, red, black))
    wrong = [
        (*label, name, mine[name], volts)
        for mine, spice, label in zip(found, read(jobs), labels, strict=True)
        for name, volts in spice.items()
        if not agrees(mine[name], volts, "dc_volts")
    ]
    assert not wrong, wrong[:5]


def test_untidy_trucks_stay_close_to_tidy_ones():
    """Soft drivers, chokes, damp and a constant-power adapter move readings, but not far: trucks for trials."""
    rng = np.random.default_rng(22)
    asks = [
        Ask(KEY_ON, "C", "A"), Ask(KEY_ON, "D", "A"), Ask(State(), "B", "A"),
        Ask(State(key="on", adapter="own"), "B.wire", "A.wire"),
    ]  # fmt: skip
    ohms, listen = Ask(BATTERY_OFF, "C", "D", "ohms"), Ask(State(key="on", adapter="known_good"), quantity="listen")
    jobs = []
    for _ in range(8):
        trucks = random_truck(rng, "none")
        for untidy in (None, Untidy.draw(rng)):
            plain = Plain.of(trucks, 0, untidy)
            jobs += [(plain, ask) for ask in (*asks, ohms, listen)]
    answers = np.array(read(jobs), dtype=object).reshape(8, 2, len(asks) + 2)
    tidy, untidy = answers[:, 0, : len(asks)].astype(float), answers[:, 1, : len(asks)].astype(float)
    assert np.abs(tidy - untidy).max() < 0.4
    assert np.abs(tidy - untidy).max() > 1e-3
    assert np.abs(answers[:, 0, -2].astype(float) - answers[:, 1, -2].astype(float)).max() < 1.0
    assert [view[0] for view in answers[:, 1, -1]] == ["frames"] * 8
