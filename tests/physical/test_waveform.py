"""Bit rate, levels and bits of traces drawn by hand: levels, clocks and noise are known."""

import numpy as np
import pytest
from wire_reference import frame_bits

from linkcheck.errors import DataError
from linkcheck.physical.waveform import Waveform, measure_bit_rate, transitions
from linkcheck.verdict.waveform import read_waveform
from linkcheck.verdict.waveform_findings import find

FRAMES = ((0x18FEF100, bytes.fromhex("FF00AA55FFFFFFFF")), (0x0CF00403, bytes(range(8))))


def drawn(bit_rate, *, per_bit=25, high=3.5, low=1.5, rest=2.5, noise=0.02, frames=FRAMES, idle=12):
    """Rectangular frames, acknowledged, with idle time around them; high and low may be functions of the bits."""
    bits = [1] * idle
    for identifier, data in frames:
        bits += [*frame_bits(identifier, data, extended=identifier > 0x7FF), *[1] * idle]
    level = np.repeat(1 - np.array(bits), per_bit)
    rng = np.random.default_rng(1)
    lines = [rest + (top - rest) * level + rng.normal(0, noise, len(level)) for top in (high, low)]
    return Waveform(0.0, 1.0 / (bit_rate * per_bit), *lines)


def words(wave):
    return {finding.finding for finding in find(read_waveform(wave)) if finding.severity != "note"}


@pytest.mark.parametrize("bit_rate", [10e3, 125e3, 250e3, 253e3, 500e3, 1e6])
def test_bit_rate_from_the_edges_alone(bit_rate):
    assert measure_bit_rate(transitions(drawn(bit_rate))) == pytest.approx(bit_rate, rel=1e-3)


def test_frames_levels_and_senders():
    reading = read_waveform(drawn(250e3))
    assert [(frame.identifier, frame.data, frame.problem) for frame in reading.frames] == [
        (*each, "") for each in FRAMES
    ]
    assert [sender.address for sender in reading.senders] == [0, 3]
    assert reading.recessive.common_volts == pytest.approx(2.5, abs=0.01)
    assert reading.dominant.high_volts == pytest.approx(3.5, abs=0.01)
    assert reading.dominant.low_volts == pytest.approx(1.5, abs=0.01)
    assert reading.nominal_bit_rate == 250e3


def test_eleven_bit_frames_are_told_apart_by_identifier():
    reading = read_waveform(drawn(500e3, frames=((0x123, b"\x01\x02"), (0x7FF, b""))))
    assert [sender.identifier for sender in reading.senders] == [0x123, 0x7FF]


def test_lines_changed_over_are_found_and_put_right():
    reading = read_waveform(drawn(250e3).swapped())
    assert reading.swapped
    assert all(not frame.problem for frame in reading.frames)


def test_a_line_that_does_not_move():
    assert "line_still" in words(drawn(250e3, low=2.5, high=4.0))


def test_a_common_mode_far_from_2_5_volts():
    assert "common_mode" in words(drawn(250e3, rest=0.8, high=2.0, low=0.0))


def test_a_clock_that_is_off():
    assert "bit_rate_off" in words(drawn(253e3))


def test_nobody_sends():
    lines = np.full(5000, 2.5)
    assert words(Waveform(0.0, 40e-9, lines, lines - 0.01)) == {"no_traffic"}


def test_a_frame_without_acknowledgement():
    wave = drawn(250e3, frames=FRAMES[:1])
    bits = frame_bits(*FRAMES[0], extended=True)
    slot = slice(
        (12 + len(bits) - 12) * 25, (12 + len(bits) - 11) * 25
    )  # 3 interframe, 7 end, delimiter, then the slot
    wave.high_volts[slot] = wave.low_volts[slot] = 2.5
    (frame,) = read_waveform(Waveform(0.0, wave.step_s, wave.high_volts, wave.low_volts)).frames
    assert not frame.acknowledged
    assert "acknowledged" in frame.problem


def test_a_trace_that_starts_and_ends_amid_frames():
    wave = drawn(250e3, frames=FRAMES * 2)
    part = slice(25 * 60, len(wave.high_volts) - 25 * 60)
    frames = read_waveform(Waveform(0.0, wave.step_s, wave.high_volts[part], wave.low_volts[part])).frames
    assert [frame.cut for frame in frames] == [False, False, True]
    assert not any(frame.problem for frame in frames[:2])


def test_too_few_samples_a_bit_are_refused_with_what_to_do():
    with pytest.raises(DataError, match="million samples"):
        read_waveform(drawn(250e3, per_bit=5))


def test_a_single_flipped_sample_changes_nothing():
    wave = drawn(250e3)
    wave.high_volts[3000] += 3.0
    assert all(not frame.problem for frame in read_waveform(wave).frames)
