"""What every station sees when any other switches: arrival, decay, ringing. From volts over time to a few figures.

A receiver takes the bus for dominant from 0.9 V and for recessive up to 0.5 V (ISO 11898-2; NXP TJA1051 data sheet
rev. 7, table 7); between them anything may be read. So an edge has arrived when the volts are past the far threshold
for good, ringing included.

Two kinds of senders count: each station alone (its frame), and all but one together (their acknowledgement, which
drives the bus harder and so falls from higher up).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from linkcheck.physical.bus import Bus
from linkcheck.physical.line import STEP_S, Swing, lay, swing

__all__ = ["DOMINANT_VOLTS", "RECESSIVE_VOLTS", "Edges", "decay_s", "look", "rebound"]

Array = npt.NDArray[Any]

RECESSIVE_VOLTS = 0.5
DOMINANT_VOLTS = 0.9
REBOUND_VOLTS = 0.1  # less is noise


@dataclass(frozen=True, slots=True, eq=False)
class Edges:
    """Edges of B buses of N stations. S rows of senders: K stations alone, then, for each of them, all others together.

    Attributes:
        swing: the volts themselves, buses and senders in one axis (bus after bus).
        senders: int[K], indices of the stations tried.
        rise_s: float[B, S, N], from the sender's switching until the volts are above 0.9 V for good; infinite if never.
        fall_s: float[B, S, N], from its switching off until they are below 0.5 V for good; infinite if not in time.
        first_fall_s: float[B, S, N], until they are below 0.5 V for the first time.
        ring_volts: float[B, S, N], how high they come up again after that; 0 where they do not.
        under_volts: float[B, S, N], how far they fall below zero.
        driven_volts: float[B, S, N], dominant volts at rest.

    """

    swing: Swing
    senders: Array
    rise_s: Array
    fall_s: Array
    first_fall_s: Array
    ring_volts: Array
    under_volts: Array
    driven_volts: Array

    def trace(self, bus: int, sender: int, receiver: int) -> tuple[Array, Array]:
        """Volts over time of one pair: going dominant, going recessive; one value a step."""
        row = bus * self.rise_s.shape[1] + sender
        return self.swing.dominant[:, row, receiver], self.swing.recessive[:, row, receiver]


def decay_s(load_ohms: float, farads: float, from_volts: float = 2.0, to_volts: float = RECESSIVE_VOLTS) -> float:
    """The same decay if the bus were one capacitance across one resistance: ohms times farads times a logarithm.

    Good where the load is far above the cable's impedance, or the bus is short against the edge; a line with its
    terminators does better than this.
    """
    return float(load_ohms * farads * np.log(from_volts / to_volts))


def look(
    buses: Sequence[Bus], longest_s: float = 40e-6, step_s: float = STEP_S, senders: Sequence[int] | None = None
) -> Edges:
    """The edges of stations at every other, on buses of equally many stations.

    Args:
        buses: them.
        longest_s: how long to wait for an edge.
        step_s: resolution in time; 0.5 ns is 10 cm of cable.
        senders: indices of the stations to try; all where not given.

    """
    n = len(buses[0].stations)
    tried = np.arange(n) if senders is None else np.array(senders)
    alone = np.eye(n, dtype=bool)[tried]
    drives = np.array([station.driver is not None for station in buses[0].stations]) & np.concatenate([alone, ~alone])
    seen = swing(lay([bus for bus in buses for _ in drives], step_s), np.tile(drives, (len(buses), 1)), longest_s)
    shape = (len(buses), len(drives), n)
    up, down = seen.dominant, seen.recessive
    below = down <= RECESSIVE_VOLTS
    first = below.argmax(axis=0)
    figures = (
        _last(up < DOMINANT_VOLTS) * step_s,
        _last(~below) * step_s,
        np.where(below.any(axis=0), first * step_s, np.inf),
        rebound(np.where(np.arange(len(down))[:, None, None] >= first, down, RECESSIVE_VOLTS)),
        -np.minimum(down.min(axis=0), 0.0),
        up[-1],
    )
    return Edges(seen, tried, *(np.asarray(figure, float).reshape(shape) for figure in figures))


def rebound(volts: Array) -> Array:
    """How high volts come up again after having fallen, over the first axis: the top of the largest rise."""
    risen = volts - np.minimum.accumulate(volts, axis=0)
    top = risen.argmax(axis=0)[None]
    level = np.take_along_axis(volts, top, axis=0)[0]
    return np.where(np.take_along_axis(risen, top, axis=0)[0] > REBOUND_VOLTS, np.maximum(level, 0.0), 0.0)


def _last(wrong: Array) -> Array:
    """How many rows until `wrong` is over for good; infinite where it is not."""
    rows = len(wrong) - wrong[::-1].argmax(axis=0)
    over = np.where(wrong.any(axis=0), rows, 0).astype(float)
    over[wrong[-1]] = np.inf
    return over
