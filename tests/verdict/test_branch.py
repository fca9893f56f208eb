"""Places on the backbone: from ngspice's ohms on random trucks, from simulated traffic, and from hand-made cases."""

import math

import numpy as np
import pytest
from against.spice_truck import NGSPICE, Ask, Plain, read

from linkcheck.circuit import Equipment, State, sample_trucks
from linkcheck.errors import UsageError
from linkcheck.pinout import Module, find_pinout, load_vehicle
from linkcheck.practice.day import Day
from linkcheck.practice.module import SECOND
from linkcheck.practice.recording import live, record
from linkcheck.practice.truck import build_truck
from linkcheck.traffic import Analysis, Options
from linkcheck.verdict.backbone import Backbone, backbone
from linkcheck.verdict.branch import OhmsReading, rank, silences
from linkcheck.verdict.branch_picture import picture
from linkcheck.verdict.ladder import predicted_ohms

TRUCK = backbone(load_vehicle(find_pinout("example-truck")))
MODULES = 5
OFF = "disconnected"


def first(ranking):
    best = ranking.places[0]
    return best.place, best.index


def row(connector):
    modules = tuple(Module(10 + k, f"module {k + 1}", 1) for k in range(MODULES))
    return Backbone(modules, (120.0, 120.0), ("", ""), connector, ())


# --- ohms from ngspice ------------------------------------------------------------------------------------


def spoiled(trucks, place, k):
    """A truck of the circuit with one fault at a known place; its figures go to ngspice as they are."""
    if place == "segment":
        values = trucks["backbone_high_ohms"].copy()
        values[k if k < MODULES else 8] = 1e9
        return trucks.changed(backbone_high_ohms=values)
    if place == "module":
        values = trucks["module_leak_across_ohms"].copy()
        values[k] = 0.5
        return trucks.changed(module_leak_across_ohms=values)
    if place == "terminator":
        values = trucks["terminator_ohms"].copy()
        values[k] = 1e9
        return trucks.changed(terminator_ohms=values)
    return trucks.bridged(f"backbone_{k + 1}.high", f"backbone_{k + 1}.low", 0.4)  # at a module's splice


def spice_ohms(trucks, unplugged):
    truck = Plain.of(trucks, 0)
    states = [State(battery=OFF, unplugged=frozenset(names)) for names in unplugged]
    return read([(truck, Ask(state, "C", "D", "ohms")) for state in states])


def name(own):
    """The circuit's name of what is unplugged as the vehicle's: module_1 is address 10."""
    return own if own.startswith("terminator") else str(9 + int(own.removeprefix("module_")))


@pytest.mark.skipif(NGSPICE is None, reason="ngspice is not installed (Debian: apt-get install ngspice)")
@pytest.mark.parametrize(
    ("place", "k"), [("segment", 1), ("segment", 4), ("terminator", 0), ("module", 0), ("module", 3), ("splice", 2)]
)
def test_ohms_of_ngspice_trucks_lead_to_the_place(place, k):
    unplugged = [(), ("terminator_1",), ("terminator_2",), *((f"module_{m}",) for m in range(1, MODULES + 1))]
    for seed in range(3):
        trucks = sample_trucks(np.random.default_rng(seed), 1, Equipment(modules=MODULES))
        trucks = trucks.changed(stub_at=2)
        ohms = spice_ohms(spoiled(trucks, place, k), unplugged)
        readings = [
            OhmsReading(value, frozenset(map(name, names))) for value, names in zip(ohms, unplugged, strict=True)
        ]
        ranking = rank(row(2), (), readings)
        found = {(each.place, each.index) for each in ranking.places if each.probability > 0.05}
        if place == "splice":  # ohms cannot tell where along the backbone a short sits, but that no module is to blame
            assert not any(each.place == "module" and each.probability > 0.05 for each in ranking.places)
        elif place in ("segment", "terminator"):
            # Ohms tell on which side of the connector the loop is broken, not how far out.
            left = {("segment", 0), ("segment", 1), ("segment", 2), ("terminator", 0)}
            right = {("segment", 2), ("segment", 3), ("segment", 4), ("segment", 5), ("terminator", 1)}
            assert (place, k) in found
            assert found <= (left if (place, k) in left else right)
        else:
            assert first(ranking) == (place, k)
            assert ranking.places[0].probability > 0.8


@pytest.mark.skipif(NGSPICE is None, reason="ngspice is not installed (Debian: apt-get install ngspice)")
def test_sound_trucks_of_ngspice_read_what_is_predicted():
    for seed in range(4):
        trucks = sample_trucks(np.random.default_rng(seed), 1, Equipment(modules=MODULES))
        unplugged = [(), ("terminator_1",), ("module_2",)]
        for value, names in zip(spice_ohms(trucks, unplugged), unplugged, strict=True):
            low, high = np.percentile(predicted_ohms(row(2), None, frozenset(map(name, names))), [0, 100])
            assert 0.93 * low < value < 1.07 * high


# --- who falls silent ------------------------------------------------------------------------------------


def heard(recording):
    analysis = Analysis(Options())
    analysis.eat(recording.batch)
    return analysis.result({"path": "invented", "format": "practice"}).channels["can0"]


def drive_with_cuts(addresses):
    day = Day("branch", 3, 25.0, 250_000, 3.0)
    truck = build_truck(day, day.plant())
    cuts = day.spells("cuts", lengths_s=(0.8, 2.5), pauses_s=(2.0, 5.0), first_s=2.0)
    for address in addresses:
        truck.modules[address].lose_power(cuts)
    assert all(end - start > 0.1 * SECOND for start, end in cuts)
    channel = heard(record(can0=live(day, truck)))
    return silences(channel.silence, {source.address for source in channel.source_addresses})


@pytest.mark.parametrize(
    ("cut_off", "place"),
    [
        # the connector sits between 33 and 49: what lies on the far side of a break falls silent
        ((0, 3), ("segment", 2)),
        ((0, 3, 15), ("segment", 3)),
        ((11, 15), ("feed", 0)),
        ((49,), ("stub", 5)),
    ],
)
def test_simulated_traffic_leads_to_the_place(cut_off, place):
    ranking = rank(TRUCK, drive_with_cuts(cut_off), ())
    likely = ranking.places[0].probability
    best = {(each.place, each.index) for each in ranking.places if each.probability > 0.4 * likely}
    assert place in best


def test_stub_and_feed_of_one_module_look_alike_and_both_are_named():
    ranking = rank(TRUCK, [frozenset({3})] * 4, ())
    assert {(each.place, each.index) for each in ranking.places[:2]} == {("stub", 1), ("module", 1)}
    assert ranking.places[0].probability + ranking.places[1].probability > 0.9


def test_everybody_at_once_is_the_connector_first():
    everybody = frozenset(TRUCK.addresses)
    assert rank(TRUCK, [everybody] * 3, ()).places[0].place == "connector"


def test_ohms_and_silence_together_tell_what_neither_tells_alone():
    # 0 and 3 fall silent; unplugging terminator 1 changes nothing, so the loop is broken on that side.
    spells = [frozenset({0, 3})] * 3
    readings = [
        OhmsReading(119.5),
        OhmsReading(119.4, frozenset({"terminator_1"})),
        OhmsReading(math.inf, frozenset({"terminator_2"})),
    ]
    together = rank(TRUCK, spells, readings)
    assert first(together) == ("segment", 2)
    assert together.places[0].probability > 0.9
    assert rank(TRUCK, (), readings).places[0].probability < 0.5


def test_a_missing_address_counts_like_a_silent_one():
    class Nothing:
        incidents = ()

    assert silences(Nothing, {0, 3}, {11}) == (frozenset({11}),)


def test_no_evidence_is_refused():
    with pytest.raises(UsageError, match="nothing to go by"):
        rank(TRUCK, [], [])


@pytest.mark.parametrize("width", [60, 80, 120])
def test_picture_shows_everything_and_fits(width):
    lines = picture(TRUCK, rank(TRUCK, [frozenset({11, 15})] * 3, ()), width)
    text = "\n".join(lines)
    assert max(map(len, lines)) <= width
    for module in TRUCK.modules:
        assert f"{module.address} {module.name}" in text
    assert "diagnostic connector" in text
    assert "◄ 1" in text
    assert text.count("■") == 2
