"""The learner's short words: points by the connector's own labels, states in two words."""

import pytest

from linkcheck.circuit import MODULES, State
from linkcheck.errors import DataError
from linkcheck.pinout import find_pinout, load_pinout
from linkcheck.practice.hidden_truck import HiddenTruck, Probe
from linkcheck.practice.words import point_names, read_move, read_point
from linkcheck.walk.layout import layout_of


def layout(name="9-pin-type-1"):
    return layout_of(load_pinout(find_pinout(name)))


@pytest.mark.parametrize(
    ("line", "probe"),
    [
        ("v b a", Probe("dc_volts", "B", "A")),
        ("Volts B, A", Probe("dc_volts", "B", "A")),
        ("v b-a", Probe("dc_volts", "B", "A")),
        ("o c d", Probe("ohms", "C", "D")),
        ("ohms bw ch", Probe("ohms", "B.wire", "chassis")),
        ("v b+ b-", Probe("dc_volts", "battery_positive", "battery_negative")),
        ("o fi fo", Probe("ohms", "fuse_in", "fuse_out")),
        ("o t1h t1l", Probe("ohms", "terminator_1.high", "terminator_1.low")),
        ("o t2a t2b", Probe("ohms", "terminator_2.a", "terminator_2.b")),
        ("v m3h ch", Probe("dc_volts", "module_3.high", "chassis")),
        ("listen", Probe("listen", bit_rate=250e3)),
        ("listen other", Probe("listen", bit_rate=500e3)),
        ("listen 500k", Probe("listen", bit_rate=500e3)),
    ],
)
def test_probes(line, probe):
    assert read_move(line, State(), layout()) == probe


@pytest.mark.parametrize(
    ("line", "state"),
    [
        ("key on", State(key="on")),
        ("battery off", State(battery="disconnected")),
        ("fuse out", State(fuse="pulled")),
        ("plug own", State(adapter="own")),
        ("plug good", State(adapter="known_good")),
        ("unplug t1", State(unplugged=frozenset({"terminator_1"}))),
        ("unplug m3", State(unplugged=frozenset({"module_3"}))),
        ("unplug modules", State(unplugged=frozenset(MODULES))),
        ("unplug drain", State(unplugged=frozenset({"drain"}))),
    ],
)
def test_states_and_back(line, state):
    assert read_move(line, State(), layout()) == state
    back = {"on": "off", "off": "on", "out": "in"}
    word, thing = line.split()
    undo = {"plug": "unplug adapter", "unplug": f"plug {thing}"}.get(word, f"{word} {back.get(thing, '')}")
    assert read_move(undo, state, layout()) == State()


def test_all_fitted_modules_one_by_one_are_all_modules():
    state = State()
    for number in range(1, 7):
        state = read_move(f"unplug m{number}", state, layout())
    assert state.unplugged == frozenset(MODULES)  # as the walk names it
    assert read_move("plug m2", state, layout()).unplugged == {f"module_{k}" for k in (1, 3, 4, 5, 6)}


def test_another_connector_has_its_own_labels():
    # SAE J1962: 16 battery positive, 4 chassis ground, 6 and 14 the CAN pair.
    assert read_move("v 16 4", State(), layout("16-pin-j1962")) == Probe("dc_volts", "B", "A")
    assert read_move("o 6 14", State(), layout("16-pin-j1962")) == Probe("ohms", "C", "D")


def test_every_point_of_a_truck_has_a_short_name():
    names = set(point_names(layout()).values())
    cavities_without_wires = {"H", "J", "H.wire", "J.wire"}  # a maker's own on this connector
    assert set(HiddenTruck([], 1).points) - names <= cavities_without_wires


def test_a_point_that_is_nearly_right_is_proposed():
    with pytest.raises(DataError, match='Did you mean "t1h"'):
        read_point("t1hh", layout())


@pytest.mark.parametrize(
    ("line", "words"),
    [("v b", "takes two points"), ("v b a c", "takes two points"), ("key sideways", "on or off"),
     ("unplug m9", "m1 to m6"), ("listen 125", "the other one"), ("v q a", 'no point "q"')],
)  # fmt: skip
def test_what_is_not_understood_says_what_would_be(line, words):
    with pytest.raises(DataError, match=words):
        read_move(line, State(), layout())


@pytest.mark.parametrize("line", ["", "hello", "12.4"])
def test_other_words_are_none_of_its_business(line):
    assert read_move(line, State(), layout()) is None
