"""The shipped scope traces: ngspice makes them again, and what hides in each is found from the trace alone."""

import numpy as np
import pytest
from physical.make_scope_captures import FOLDER, FRAMES, TRACES, trace
from physical.spice_line import NGSPICE

from linkcheck.readers.scope_csv import read_scope
from linkcheck.verdict.waveform import read_waveform
from linkcheck.verdict.waveform_findings import find


def reading(name):
    return read_waveform(read_scope(str(FOLDER / f"{name}.csv.gz")).wave)


def faults(name):
    return {finding.finding for finding in find(reading(name)) if finding.severity == "fault"}


@pytest.mark.skipif(NGSPICE is None, reason="ngspice is not installed (Debian: apt-get install ngspice)")
@pytest.mark.long
@pytest.mark.parametrize("name", TRACES)
def test_trace_is_what_ngspice_makes(name):
    shipped = read_scope(str(FOLDER / f"{name}.csv.gz")).wave
    seconds, high, low = trace(TRACES[name])
    assert len(shipped.high_volts) == len(seconds)
    assert shipped.step_s == pytest.approx(seconds[1] - seconds[0], rel=1e-3)
    # Another release of ngspice may place an edge a little elsewhere: nearly all samples must agree to two steps.
    for ours, theirs in ((shipped.high_volts, high), (shipped.low_volts, low)):
        assert np.mean(np.abs(ours - theirs) < 0.07) > 0.995


def test_sound():
    assert faults("scope-sound") == set()
    found = reading("scope-sound")
    assert found.terminators["two"] > 0.8
    assert found.nominal_bit_rate == 250e3


def test_terminator_missing():
    assert faults("scope-terminator-missing") == {"terminators"}
    found = reading("scope-terminator-missing")
    assert found.terminators["one"] > 0.9
    assert 0.2e-6 < found.decay_s < 0.7e-6  # 38 m: half a microsecond, see test_edges


def test_no_terminator():
    assert "terminators" in faults("scope-no-terminator")
    assert reading("scope-no-terminator").terminators["none"] > 0.95


def test_long_stub():
    assert faults("scope-long-stub") == {"ringing"}


@pytest.mark.parametrize("name", ["scope-sound", "scope-terminator-missing", "scope-long-stub"])
def test_every_frame_is_read_and_every_driver_told_apart(name):
    found = reading(name)
    sent = [(identifier, bytes(data)) for _, identifier, data, _ in FRAMES]
    assert [(frame.identifier, frame.data) for frame in found.frames if not frame.problem] == sent
    assert [sender.address for sender in found.senders] == [0, 3, 11]
    # Drivers of 48, 44 and 52 ohm: the second reaches most, the third least; all others together reach more.
    first, second, third = (sender.dominant.difference_volts for sender in found.senders)
    assert second > first > third
    assert all(sender.answer.difference_volts > sender.dominant.difference_volts + 0.4 for sender in found.senders)
