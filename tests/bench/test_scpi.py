"""Bench instruments over SCPI, on pyvisa-sim: a simulated supply and meter that know the standard commands."""

import pytest

pytest.importorskip("pyvisa_sim")

from linkcheck.bench.hands import NoHands
from linkcheck.bench.scpi import Instrument, InstrumentHands
from linkcheck.errors import DataError, UsageError

INSTRUMENTS = """\
spec: "1.1"
devices:
  supply:
    eom:
      TCPIP INSTR: {q: "\\n", r: "\\n"}
    error: ERROR
    dialogues:
      - {q: "*IDN?", r: "made up,supply,0,0"}
      - {q: "MEAS:CURR?", r: "0.1234"}
    properties:
      volts: {default: 0.0, getter: {q: "VOLT?", r: "{:.2f}"}, setter: {q: "VOLT {}"}, specs: {type: float}}
      limit: {default: 0.0, getter: {q: "CURR?", r: "{:.2f}"}, setter: {q: "CURR {}"}, specs: {type: float}}
      output: {default: "OFF", getter: {q: "OUTP?", r: "{}"}, setter: {q: "OUTP {}"}, specs: {type: str}}
  meter:
    eom:
      TCPIP INSTR: {q: "\\n", r: "\\n"}
    error: ERROR
    dialogues:
      - {q: "*IDN?", r: "made up,meter,0,0"}
      - {q: "MEAS:RES?", r: "9.9E37"}
resources:
  TCPIP::10.0.0.5::INSTR: {device: supply}
  TCPIP::10.0.0.6::INSTR: {device: meter}
"""


@pytest.fixture
def library(tmp_path):
    path = tmp_path / "instruments.yaml"
    path.write_text(INSTRUMENTS)
    return f"{path}@sim"


@pytest.fixture
def supply(library):
    instrument = Instrument("TCPIP::10.0.0.5::INSTR", library)
    yield instrument
    instrument.close()


def test_a_supply_is_limited_set_and_switched_on(supply):
    assert supply.identity == "made up,supply,0,0"
    hands = InstrumentHands(NoHands(bench_confirmed=True), supply, None)
    assert (supply.ask("CURR?"), supply.ask("VOLT?")) == (1.0, 13.8)
    assert hands.set_volts(9.0)
    assert supply.ask("VOLT?") == 9.0
    assert hands.amps() == pytest.approx(0.1234)
    assert hands.no_vehicle()
    assert not hands.unplug()


def test_no_adapter_is_fed_with_more_than_a_vehicle_has(supply):
    hands = InstrumentHands(NoHands(bench_confirmed=True), supply, None)
    with pytest.raises(UsageError, match="60 V is beyond"):
        hands.set_volts(60)
    assert supply.ask("VOLT?") == 13.8


def test_over_range_of_a_meter_is_infinity(library):
    meter = Instrument("TCPIP::10.0.0.6::INSTR", library)
    assert InstrumentHands(NoHands(bench_confirmed=True), None, meter).ohms() == float("inf")
    meter.close()


def test_an_instrument_that_is_not_there_is_a_sentence(library):
    with pytest.raises(DataError, match="does not answer"):
        Instrument("TCPIP::10.0.0.9::INSTR", library)


def test_a_question_it_does_not_know_is_a_sentence(supply):
    with pytest.raises(DataError, match="MEAS:RES"):
        supply.ask("MEAS:RES?")
