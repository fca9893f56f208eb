"""What bad wiring does to frames on the simulated bus.

A bus without its terminator lets go of a dominant bit too slowly, so it is the first recessive bit after a dominant one
that is misread as dominant, and here and there only, where the wiring is worst. How often is invented; that it happens
to recessive bits follows from the edge's decay.
"""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import dataclass, field

from linkcheck.practice.bus import Strike
from linkcheck.practice.controller import Controller
from linkcheck.practice.wire import Place, Wire

__all__ = ["SlowEdges"]

SECOND = 1_000_000_000


@dataclass(slots=True)
class SlowEdges:
    """Misread recessive bits.

    Attributes:
        chance: random numbers of its own.
        as_sender: share of its own frames that a controller misreads, at a time in seconds.
        as_receiver: share of other controllers' frames that it misreads.

    """

    chance: random.Random
    as_sender: dict[Controller, Callable[[float], float]] = field(default_factory=dict)
    as_receiver: dict[Controller, Callable[[float], float]] = field(default_factory=dict)

    def __call__(self, start_ns: int, sender: Controller, wire: Wire) -> tuple[Strike, ...]:
        """Draw who misreads this frame, and at which bit."""
        t = start_ns / SECOND
        strikes = []
        if sender in self.as_sender and self.chance.random() < self.as_sender[sender](t):
            strikes.append(Strike(self._bit(wire), sender))
        for controller, share in self.as_receiver.items():
            if controller is not sender and self.chance.random() < share(t):
                strikes.append(Strike(self._bit(wire), controller))
        return tuple(strikes)

    def _bit(self, wire: Wire) -> int:
        """A recessive bit behind a dominant one, after arbitration and before the CRC delimiter."""
        first, end = wire.first(Place.DLC), wire.first(Place.CRC_DELIMITER)
        edges = [bit for bit in range(first, end) if wire.levels[bit - 1 : bit + 1] == "01"]
        return edges[int(self.chance.random() * len(edges))]
