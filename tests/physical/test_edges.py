"""Edges and margins against textbook reflections, published figures and laws that must hold."""

import numpy as np
import pytest

from linkcheck.errors import UsageError
from linkcheck.physical import Bus, Cable, Driver, Station, Terminator, even_bus
from linkcheck.physical.edges import decay_s, look
from linkcheck.physical.margin import Bit, longest_bus_m, longest_stub_m, stub_rule_m, weigh

# SAE J1939-11 (from memory): 40 m, 75 pF/m at most; ten nodes of 20 pF and 30 kohm (NXP TJA1051 rev. 7, table 7).
WORST_CABLE = Cable(120.0, 9.0)


@pytest.mark.parametrize(
    ("ohms", "micro"), [(60.0, 0.266), (120.0, 0.532), (40.0, 0.177), (3000.0, 13.3)]
)  # 2 V to 0.5 V is ohms x farads x ln 4, textbook
def test_decay_of_3_2_nanofarads(ohms, micro):
    bus = even_bus(40.0, 10, stub_m=0.0, cable=WORST_CABLE)
    assert bus.farads == pytest.approx(3.2e-9, rel=0.01)
    assert decay_s(ohms, 3.2e-9) * 1e6 == pytest.approx(micro, rel=0.005)


def test_without_terminators_waves_add_up_to_the_one_resistance_one_capacitance_decay():
    bus = even_bus(40.0, 10, stub_m=0.0, terminators=(), cable=WORST_CABLE)
    edges = look([bus], 60e-6, 2e-9)
    expected = decay_s(bus.load_ohms, bus.farads, float(edges.driven_volts[0, 0, 9]))
    assert edges.fall_s[0, 0, 9] == pytest.approx(expected, rel=0.03)
    assert 13e-6 < expected < 20e-6  # 13.3 us from 2 V; a bus without load is driven higher


@pytest.mark.parametrize("terminators", [(120.0, 120.0), (120.0,)])
def test_a_bus_far_shorter_than_its_edge_is_one_resistance_and_one_capacitance(terminators):
    # All terminators at the driver's end, so that no current flows in the line whose stop would ring.
    quick = Station(0.0, 0.0, 1.6e-9, 30e3, Driver(transition_ns=1.0))
    even = even_bus(0.2, 2, stub_m=0.0, station=quick)
    bus = Bus(even.cable, 0.2, even.stations, tuple(Terminator(0.0, ohms) for ohms in terminators))
    edges = look([bus], 5e-6, 0.1e-9, [0])
    volts = float(edges.driven_volts[0, 0, 0])
    assert edges.fall_s[0, 0, 0] == pytest.approx(decay_s(bus.load_ohms, bus.farads, volts), rel=0.03)


@pytest.mark.parametrize(("ohms", "reflected"), [(None, 1.0), (120.0, 0.0), (60.0, -1 / 3), (40.0, -1 / 2)])
def test_reflection_at_the_end_of_a_120_ohm_line(ohms, reflected):
    # (load - 120) / (load + 120), textbook; the volts at the end are the arriving wave's times one more.
    idle = {"input_farads": 0.0, "input_ohms": 1e9, "driver": None}
    stations = (Station(0.0, 0.0, 0.0, 1e9, Driver(transition_ns=10.0)), Station(50.0, **idle), Station(100.0, **idle))
    ends = (Terminator(0.0, 120.0), *([Terminator(100.0, ohms)] if ohms else []))
    edges = look([Bus(Cable(), 100.0, stations, ends)], 1e-6, senders=[0])
    going_up = edges.swing.dominant[:, 0]
    arriving = going_up[int(400e-9 / edges.swing.step_s), 1]  # passed the middle, not yet reflected
    assert going_up[int(600e-9 / edges.swing.step_s), 2] == pytest.approx(arriving * (1 + reflected), rel=0.01)


def test_a_three_way_junction_lets_two_thirds_through():
    idle = {"input_farads": 0.0, "input_ohms": 1e9, "driver": None}
    stations = (
        Station(0.0, 0.0, 0.0, 1e9, Driver(transition_ns=10.0)),
        Station(25.0, 0.0, **idle),
        Station(50.0, 80.0, **idle),
        Station(100.0, 0.0, **idle),
    )
    edges = look([Bus(Cable(), 100.0, stations, (Terminator(0.0), Terminator(100.0)))], 1.5e-6, senders=[0])
    going_up = edges.swing.dominant[:, 0]
    arriving = going_up[int(250e-9 / edges.swing.step_s), 1]
    assert going_up[int(600e-9 / edges.swing.step_s), 3] == pytest.approx(arriving * 2 / 3, rel=0.01)


def test_sample_comes_3_5_microseconds_into_a_bit_of_250_kbit():
    bit = Bit(250e3)  # 87.5 %: SAE J1939-11 and CiA's recommendation
    assert bit.sample_point * bit.bit_s == pytest.approx(3.5e-6)


def test_stub_rule():
    # 50 ns / (6 x 5 ns/m); TI SLLA270, from memory
    assert stub_rule_m(even_bus(40.0, 8)) == pytest.approx(1.667, abs=0.001)


def test_round_trip_over_40_m_takes_0_9_microseconds_and_two_edges():
    quick = Station(0.0, 0.0, 20e-12, 30e3, Driver(transition_ns=10.0))
    bus = even_bus(40.0, 2, stub_m=0.0, station=quick)
    needed = weigh(look([bus]), Bit(250e3)).needed_s
    assert needed == pytest.approx(2 * (40 * 5e-9 + 250e-9), rel=0.03)  # there and back, two transceiver loops


@pytest.mark.parametrize(("bit_rate", "metres"), [(500e3, 100.0), (250e3, 250.0)])
def test_longest_bus_is_the_usual_guide_value(bit_rate, metres):
    # 100 m at 500 kbit/s, 250 m at 250 kbit/s: CiA's guide values, from memory
    bus = even_bus(40.0, 8, stub_m=0.3)
    assert longest_bus_m(bus, Bit(bit_rate)) == pytest.approx(metres, rel=0.1)


def test_one_megabit_over_40_m_with_quick_transceivers():
    # 40 m at 1 Mbit/s with stubs of 0.3 m: TI SLOA101; transceivers of 40 to 250 ns: NXP TJA1051 rev. 7
    bus = even_bus(40.0, 8, stub_m=0.3)
    assert weigh(look([bus]), Bit(1e6, loop_s=150e-9)).works
    assert not weigh(look([bus]), Bit(1e6, loop_s=250e-9)).works


def test_one_terminator_will_do_on_a_short_bus_and_none_will_not():
    bit = Bit(250e3)
    one = weigh(look([even_bus(10.0, 6, terminators=(120.0,))]), bit)
    none = weigh(look([even_bus(10.0, 6, terminators=())], step_s=2e-9), bit)
    assert one.works
    assert one.recessive_volts < 0.2
    assert not none.works
    assert none.returned_volts > 0.9


def test_the_rate_at_which_it_stops_is_where_the_margin_ends():
    edges = look([even_bus(30.0, 5, terminators=(120.0,))])
    stops = weigh(edges, Bit(250e3)).stops_at_bit_rate
    assert weigh(edges, Bit(stops * 0.999)).works
    assert not weigh(edges, Bit(stops * 1.001)).works


def test_longest_stub_works_and_a_longer_one_does_not():
    bus, bit = even_bus(20.0, 4), Bit(500e3)
    longest = longest_stub_m(bus, bit)
    assert weigh(look([bus.with_stubs(longest)]), bit).works
    assert not weigh(look([bus.with_stubs(longest * 1.4)]), bit).works


def test_a_bus_looked_at_from_its_other_end_is_the_same_bus():
    places, stubs = (1.0, 4.5, 12.0), (0.5, 2.0, 1.0)
    there = Bus(Cable(), 15.0, tuple(map(Station, places, stubs)), (Terminator(0.0),))
    mirrored = [Station(15.0 - at, stub) for at, stub in zip(places, stubs, strict=True)]
    back = Bus(Cable(), 15.0, tuple(mirrored), (Terminator(15.0),))
    assert np.allclose(look([there]).fall_s[0, :3], look([back]).fall_s[0, :3][::-1, ::-1], atol=1e-9)


@pytest.mark.parametrize(
    "wrong",
    [
        lambda: Cable(120.0, 2.0),  # faster than light
        lambda: Cable(2.0),
        lambda: even_bus(40.0, 1),
        lambda: even_bus(0.0, 3),
        lambda: even_bus(40.0, 3, terminators=(0.1,)),
        lambda: even_bus(40.0, 3, stub_m=-1.0),
        lambda: Bit(3.0),
        lambda: Bit(250e3, 0.3),
    ],
)
def test_figures_that_cannot_be_are_refused(wrong):
    with pytest.raises(UsageError):
        wrong()
