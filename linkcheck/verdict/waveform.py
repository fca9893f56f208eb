"""A scope's trace from volts to a verdict: levels, edges, bits, frames, every driver by itself, terminators.

`physical` measures and `frames` reads; here they meet, because only a decoded frame tells who drives which bit: behind
arbitration the sender alone, in the ACK slot everybody else. What is to be thought of the figures is in
`waveform_findings`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from linkcheck.errors import DataError
from linkcheck.frames.received import Received, receive
from linkcheck.j1939.addresses import address_name
from linkcheck.physical.edges import DOMINANT_VOLTS
from linkcheck.physical.levels import Fall, Level, fall_of, level_of, overshoot, slow_fall
from linkcheck.physical.termination import Evidence, judge
from linkcheck.physical.waveform import (
    THRESHOLD_VOLTS,
    Run,
    Transitions,
    Waveform,
    measure_bit_rate,
    runs,
    transitions,
    usual_rate,
)

__all__ = ["SCHEMA", "FrameRow", "SenderRow", "WaveformReading", "read_waveform"]

Array = npt.NDArray[Any]

SCHEMA = "linkcheck.waveform/1"
FEWEST_SAMPLES = 8  # a bit
QUIET_BITS = 3.0  # so long after an edge the bus has settled or never will
PART = (0.5, 0.95)  # of a bit: where its level is read
ROOM_BITS = 1.85  # an edge's decay is seen where two recessive bits follow


@dataclass(frozen=True, slots=True)
class FrameRow:
    """One frame as it was read. `problem` is empty for a good one; `cut` where the trace ended inside it."""

    at_s: float
    identifier: int
    extended: bool
    remote: bool
    length: int
    data: bytes
    crc: int
    acknowledged: bool
    problem: str
    cut: bool


@dataclass(frozen=True, slots=True)
class SenderRow:
    """One sender: its own dominant level and edges, and the level while all others answer it in the ACK slot.

    `over_volts` is how far its edge to dominant goes above the level it settles at.
    """

    address: int | None
    identifier: int | None
    name: str
    frames: int
    dominant: Level
    answer: Level | None
    fall: Fall | None
    over_volts: float | None


@dataclass(frozen=True, slots=True)
class WaveformReading:
    """What a trace shows.

    Attributes:
        swapped: high and low were changed over, and are put right in all figures below.
        bit_rate: as measured. nominal_bit_rate: the usual one it is meant to be, once frames were read with it.
        recessive, dominant: levels at rest and while one sender drives; None where there is none.
        decay_s: from 90 % of the driven volts to 0.5 V for good, the slowest sender's; infinite if never seen.
        terminators: probability by count; empty where no edge could be judged.

    """

    wave: Waveform
    swapped: bool
    bit_rate: float | None
    nominal_bit_rate: float | None
    recessive: Level | None
    dominant: Level | None
    decay_s: float | None
    fall: Fall | None
    terminators: dict[str, float]
    senders: tuple[SenderRow, ...]
    frames: tuple[FrameRow, ...]


@dataclass(frozen=True, slots=True, eq=False)
class _Read:
    """A frame with the bits it came from."""

    run: Run
    frame: Received

    def stretch(self, bit: int, bit_s: float) -> tuple[float, float]:
        start = float(self.run.start_s[bit])
        return start + PART[0] * bit_s, start + PART[1] * bit_s

    def own_dominant(self, bit_s: float) -> list[tuple[float, float]]:
        return [self.stretch(k, bit_s) for k in self.frame.own_bits if self.run.bits[k] == 0]


def read_waveform(wave: Waveform, bit_rate: float | None = None) -> WaveformReading:
    """Everything a trace of CAN high and CAN low tells.

    Args:
        wave: the trace.
        bit_rate: where it is known; measured from the edges otherwise.

    Raises:
        DataError: sampled too coarsely for its own bits.

    """
    swapped = bool(
        np.percentile(wave.difference, 0.5) < -THRESHOLD_VOLTS
        and np.percentile(wave.difference, 99.5) < THRESHOLD_VOLTS
    )
    wave = wave.swapped() if swapped else wave
    edges = transitions(wave)
    rate = bit_rate or measure_bit_rate(edges)
    if rate and rate * wave.step_s > 1.0 / FEWEST_SAMPLES:
        raise DataError(
            f"The scope took {1.0 / (rate * wave.step_s):.1f} samples a bit, too few to judge an edge.",
            todo=f"Record again with {20.0 * rate / 1e6:g} million samples a second or more.",
        )
    read = [_Read(run, receive(run.bits.tolist())) for run in runs(wave, edges, rate)] if rate else []
    good = [each for each in read if each.frame.good]
    senders = _senders(wave, edges, good, 1.0 / rate) if rate else ()
    falls = [(sender, sender.fall) for sender in senders if sender.fall is not None]
    if falls:
        fall: Fall | None = max((fall for _, fall in falls), key=lambda each: each.decay_s)
        seen = [
            Evidence(each, sender.answer.difference_volts if sender.answer else None, sender.over_volts)
            for sender, each in falls
        ]
    else:
        fall = slow_fall(wave, edges)
        seen = [Evidence(fall)] if fall else []
    return WaveformReading(
        wave,
        swapped,
        rate,
        usual_rate(rate) if rate and good else None,
        _recessive(wave, edges, rate),
        _dominant(wave, good, 1.0 / rate if rate else 0.0),
        fall.decay_s if fall else None,
        fall,
        judge(seen) if seen else {},
        senders,
        tuple(_row(each, wave) for each in read),
    )


def _recessive(wave: Waveform, edges: Transitions, rate: float | None) -> Level | None:
    """The level at rest: long after an edge to recessive, to the next edge; the whole trace where there is no edge."""
    if not len(edges.seconds):
        return level_of(wave, [(0.0, wave.length_s)])
    quiet = QUIET_BITS / rate if rate else 0.0
    falls = edges.seconds[~edges.rising]
    starts = [*([] if edges.starts_dominant else [-quiet]), *falls]
    rises = [*edges.seconds[edges.rising], wave.length_s]
    ends = [rises[int(np.searchsorted(rises[:-1], start))] for start in starts]
    stretches = [
        (start + quiet, end - wave.step_s) for start, end in zip(starts, ends, strict=True) if end - start > quiet
    ]
    return level_of(wave, stretches)


def _dominant(wave: Waveform, good: Sequence[_Read], bit_s: float) -> Level | None:
    """The level while one sender drives; without decoded frames, whatever is above the threshold."""
    if good:
        return level_of(wave, [part for each in good for part in each.own_dominant(bit_s)])
    high = np.flatnonzero(wave.difference > DOMINANT_VOLTS)
    if not len(high):
        return None
    return Level(float(np.median(wave.high_volts[high])), float(np.median(wave.low_volts[high])), len(high))


def _senders(wave: Waveform, edges: Transitions, good: Sequence[_Read], bit_s: float) -> tuple[SenderRow, ...]:
    """Good frames by who sent them: source address of 29-bit identifiers, else the identifier itself."""
    groups: dict[tuple[bool, int], list[_Read]] = {}
    for each in good:
        frame = each.frame
        key = (frame.extended, frame.identifier & 0xFF if frame.extended else frame.identifier)
        groups.setdefault(key, []).append(each)
    rows = (_sender(wave, edges, key, groups[key], bit_s) for key in sorted(groups))
    return tuple(row for row in rows if row is not None)


def _sender(
    wave: Waveform, edges: Transitions, key: tuple[bool, int], read: Sequence[_Read], bit_s: float
) -> SenderRow | None:
    extended, number = key
    dominant = level_of(wave, [part for each in read for part in each.own_dominant(bit_s)])
    if dominant is None:
        return None
    answer = level_of(wave, [each.stretch(each.frame.ack_bit, bit_s) for each in read])
    return SenderRow(
        number if extended else None,
        None if extended else number,
        address_name(number) if extended else f"identifier {number:03X}",
        len(read),
        dominant,
        answer,
        fall_of(wave, _own(edges, read, bit_s, rising=False), bit_s),
        overshoot(wave, _own(edges, read, bit_s, rising=True), bit_s),
    )


def _own(edges: Transitions, read: Sequence[_Read], bit_s: float, *, rising: bool) -> Array:
    """Edges that one sender alone makes: to dominant, or to recessive with two recessive bits behind them."""
    found = edges.seconds[edges.rising == rising]
    if not rising:
        rises = np.append(edges.seconds[edges.rising], np.inf)
        found = found[rises[np.searchsorted(rises, found)] - found > ROOM_BITS * bit_s]
    spans = [(each.run.start_s[each.frame.own_bits.start], each.run.start_s[each.frame.own_bits[-1]]) for each in read]
    own: Array = found[np.any([(found > a) & (found < b) for a, b in spans], axis=0)]
    return own


def _row(read: _Read, wave: Waveform) -> FrameRow:
    frame = read.frame
    return FrameRow(
        float(wave.start_s + read.run.start_s[0]) if len(read.run.start_s) else wave.start_s,
        frame.identifier,
        frame.extended,
        frame.remote,
        frame.length,
        frame.data,
        frame.crc_sent,
        frame.acknowledged,
        frame.problem,
        read.run.cut and frame.used_bits >= len(read.run.bits),
    )
