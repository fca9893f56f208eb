"""Waves on a bus: the step response of lossless lines with junctions, capacitances, terminators and real drivers.

Each piece of cable carries two travelling waves and hands them over after its delay (Bergeron's method, H. W. Dommel,
IEEE Trans. PAS-88, 1969); between two moments no point of the network feels any other, so each is solved alone.
Capacitances are replaced by their trapezoidal companions. A driver pushes through its resistance while the bus is below
its voltage and does nothing above it; while it switches, its conductance moves in a straight line.

Many buses of equally many stations are solved at once. Delays are whole steps: a piece of cable is at least one step
long, and the place of a junction is off by half a step (5 cm at 0.5 ns) at most. No judgement here: see `edges`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from linkcheck.physical.bus import Bus, Driver

__all__ = ["STEP_S", "Lines", "Swing", "lay", "swing"]

Array = npt.NDArray[Any]

STEP_S = 0.5e-9
BLOCK = 256  # steps between looks at whether all has come to rest
RESTING_VOLTS = 0.4  # up and down together: what is left cannot reach a threshold any more
RESTS_AFTER_S = 0.7e-6  # before that nothing can be said of rest: waves may still be on their way
NO_DRIVER = Driver(0.0, 1e12, 50.0)


@dataclass(frozen=True, slots=True, eq=False)
class Lines:
    """B buses of N stations each, cut into steps.

    Points: 0 is the start, 1 to N the junctions, N + 1 the end, N + 2 and on the stations.

    Attributes:
        step_s: one step.
        piece_steps: int[B, N + 1], delay of each piece of backbone.
        stub_steps: int[B, N].
        wave_ohms: float[B].
        siemens, farads: across the pair at each point, float[B, 2 N + 2].
        emf_volts, on_siemens: of each station's driver, float[B, N].
        transition_s: float[B], how long drivers take to switch.

    """

    step_s: float
    piece_steps: Array
    stub_steps: Array
    wave_ohms: Array
    siemens: Array
    farads: Array
    emf_volts: Array
    on_siemens: Array
    transition_s: Array


@dataclass(frozen=True, slots=True, eq=False)
class Swing:
    """What the stations see when somebody goes dominant at time 0, and, all at rest, recessive at time 0.

    Attributes:
        step_s: one step.
        dominant, recessive: volts, float32[T, B, N]; the first row is the moment before anything happens.

    """

    step_s: float
    dominant: Array
    recessive: Array


def lay(buses: Sequence[Bus], step_s: float = STEP_S) -> Lines:
    """Cut buses of equally many stations into steps. A terminator amid the bus sits at the nearest junction."""
    delay = np.array([bus.cable.delay_ns_per_m for bus in buses])[:, None] * 1e-9
    at = np.array([[0.0, *(s.at_m for s in bus.stations), bus.length_m] for bus in buses])
    stub = np.array([[s.stub_m for s in bus.stations] for bus in buses])
    drivers = [[s.driver or NO_DRIVER for s in bus.stations] for bus in buses]
    inputs = np.array([[(1.0 / s.input_ohms, s.input_farads) for s in bus.stations] for bus in buses])
    siemens = np.concatenate([np.zeros(at.shape), inputs[..., 0]], axis=1)
    for row, bus in enumerate(buses):
        for each in bus.terminators:
            siemens[row, np.abs(at[row] - each.at_m).argmin()] += 1.0 / each.ohms
    wave_ohms = np.array([bus.cable.impedance_ohms for bus in buses])
    pieces = np.maximum(np.diff(np.rint(at * delay / step_s).astype(int), axis=1), 1)
    stubs = np.maximum(np.rint(stub * delay / step_s).astype(int), 1)
    # Where a piece had to be made longer than it is, its capacitance is taken off the inputs again.
    longer_s = (pieces * step_s - np.diff(at) * delay).sum(axis=1, keepdims=True) / stub.shape[1]
    excess = (longer_s + stubs * step_s - stub * delay) / wave_ohms[:, None]
    return Lines(
        step_s,
        pieces,
        stubs,
        wave_ohms,
        siemens,
        np.concatenate([np.zeros(at.shape), np.maximum(inputs[..., 1] - excess, 0.0)], axis=1),
        np.array([[d.emf_volts for d in row] for row in drivers]),
        np.array([[1.0 / d.on_ohms for d in row] for row in drivers]),
        np.array([max(d.transition_ns for d in row) * 1e-9 for row in drivers]),
    )


class _Waves:
    """The state of the lines, and one step of it."""

    def __init__(self, lines: Lines) -> None:
        b, pieces = lines.piece_steps.shape
        n = pieces - 1
        # Ports in pairs, one at each end of a piece of cable: backbone pieces first, then stubs.
        ends = [(k, k + 1) for k in range(pieces)] + [(k + 1, n + 2 + k) for k in range(n)]
        self._point = np.array(ends).ravel()
        other = np.arange(len(self._point)) ^ 1
        delay = np.repeat(np.concatenate([lines.piece_steps, lines.stub_steps], axis=1), 2, axis=1)
        self._depth = int(delay.max()) + 1
        self._sent = np.zeros((self._depth, b, len(other)))
        self._flat = self._sent.reshape(-1)
        # Where each port's wave was sent, as an index into the flat history, counted back from the present row.
        self._row = b * len(other)
        self._from = np.arange(b)[:, None] * len(other) + other - delay * self._row
        joins = (self._point[:, None] == np.arange(2 * n + 2)).astype(float)
        self._gather = 2.0 * joins
        self._wave = 1.0 / lines.wave_ohms[:, None]
        self._stored = 2.0 * lines.farads / lines.step_s
        self._admits = joins.sum(axis=0) * self._wave + lines.siemens + self._stored
        self._memory = np.zeros(self._admits.shape)  # the capacitances' companion currents
        self._emf, self._on = lines.emf_volts, lines.on_siemens
        self._stations = slice(n + 2, None)
        self._now = 0

    def step(self, share: Array) -> Array:
        """Volts at the stations one step later; `share` says how far each driver is switched on, [B, N]."""
        arriving = self._flat.take(self._from + self._now * self._row, mode="wrap")
        amps = (arriving @ self._gather) * self._wave + self._memory
        volts = amps / self._admits
        at = self._stations
        siemens = self._on * share
        pushed = (amps[:, at] + siemens * self._emf) / (self._admits[:, at] + siemens)
        volts[:, at] = np.where(volts[:, at] < self._emf, pushed, volts[:, at])
        self._memory = 2.0 * self._stored * volts - self._memory
        np.subtract(volts[:, self._point], arriving, out=self._sent[self._now])
        self._now = (self._now + 1) % self._depth
        seen: Array = volts[:, at]
        return seen


def swing(lines: Lines, drives: Array, longest_s: float = 40e-6) -> Swing:
    """Let stations go dominant until the bus rests, and then recessive until it rests again.

    Args:
        lines: the buses.
        drives: bool[B, N], who drives; several of one bus do so together.
        longest_s: neither half is followed any longer.

    """
    waves = _Waves(lines)
    ramp = np.maximum(lines.transition_s / lines.step_s, 1.0)[:, None]
    most = int(longest_s / lines.step_s)
    least = int(RESTS_AFTER_S / lines.step_s)
    parts: list[Array] = []
    for going_up in (True, False):
        seen = [parts[0][-1:] if parts else np.zeros((1, *drives.shape), np.float32)]
        for first in range(1, most + 1, BLOCK):
            past = np.minimum(np.arange(first, first + BLOCK)[:, None, None] / ramp, 1.0)
            shares = drives * (past if going_up else 1.0 - past)
            seen.append(np.stack([waves.step(share) for share in shares]).astype(np.float32))
            moved = np.ptp(seen[-1], axis=0).max() if going_up else 2.0 * np.abs(seen[-1]).max()
            if first >= least and moved < RESTING_VOLTS:
                break
        parts.append(np.concatenate(seen))
    return Swing(lines.step_s, *parts)
