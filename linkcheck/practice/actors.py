"""Senders that are no J1939 modules: a controller gone wild, and a device that speaks 11-bit identifiers."""

from __future__ import annotations

import random

from linkcheck.practice.bus import Bus
from linkcheck.practice.controller import Controller
from linkcheck.practice.signalling import BusError
from linkcheck.practice.wire import INTERMISSION, Frame

__all__ = ["Flood", "add_beacon"]

MS = 1_000_000
LATE = 1.03  # intermissions: the longest a wild controller takes to offer its next frame


class Flood:
    """Sends one frame back to back between two times.

    The next frame is offered while the bus is still in intermission and wins; a few times in a hundred it comes just
    too late, and somebody else gets through.
    """

    def __init__(
        self,
        bus: Bus,
        controller: Controller,
        frame: Frame,
        *,
        start_ns: int,
        end_ns: int,
        chance: random.Random,
    ) -> None:
        self._bus, self._controller, self._frame, self._end_ns, self._chance = bus, controller, frame, end_ns, chance
        controller.drivers.append(self)
        bus.at(start_ns, self._offer)

    def _offer(self, now_ns: int) -> None:
        if now_ns < self._end_ns:
            self._controller.offer(self._frame)

    def on_frame(self, time_ns: int, frame: Frame, *, own: bool) -> None:
        """Once more."""
        if own and frame == self._frame:
            delay_ns = self._chance.uniform(0, LATE) * self._bus.bits_ns(INTERMISSION)
            self._bus.at(time_ns + int(delay_ns), self._offer)

    def on_error(self, time_ns: int, error: BusError) -> None:
        """It does not care."""

    def on_restart(self, time_ns: int) -> None:
        """Nor here."""


def add_beacon(bus: Bus, messages: dict[int, tuple[float, int]], chance: random.Random, *, start_ns: int) -> None:
    """Attach a device that sends 11-bit frames: identifier to period in milliseconds and number of bytes."""
    controller = bus.attach(Controller("11-bit device"))

    def repeat(identifier: int, period_ms: float, length: int, due_ns: float, count: int) -> None:
        def tick(_now_ns: int) -> None:
            data = bytes([count % 256, *((identifier + 17 * n) % 256 for n in range(1, length))])
            controller.offer(Frame(identifier, data, extended=False))
            repeat(identifier, period_ms, length, due_ns + period_ms * MS * chance.uniform(0.98, 1.02), count + 1)

        bus.at(int(due_ns), tick)

    for identifier, (period_ms, length) in messages.items():
        repeat(identifier, period_ms, length, start_ns + chance.random() * period_ms * MS, 0)
