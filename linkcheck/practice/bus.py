"""A CAN bus, simulated event by event: arbitration, exact frame times, acknowledgement, error flags, recovery.

Time is in nanoseconds from the start. Whatever happens on the bus is worked out when a frame starts (nobody can
change it any more) and told to the controllers when it happens. What is left out, and does not matter here: clock
differences inside a bit, overload frames, and errors during arbitration, inside flags and delimiters.

Rules: CAN Specification 2.0 (September 1991), part B, sections 3 (message transfer), 7 (error handling) and 8 (fault
confinement); the same in ISO 11898-1.
"""

from __future__ import annotations

import heapq
from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from typing import Protocol

from linkcheck.practice.confinement import RECOVERY_SEQUENCES
from linkcheck.practice.controller import FAR, Controller
from linkcheck.practice.signalling import BusError, ErrorKind, as_noticed, as_origin, first_difference, noticed_at
from linkcheck.practice.wire import INTERMISSION, Frame, Place, Wire, on_the_wire

__all__ = ["Bus", "Disturbance", "Strike"]

FLAG = 6  # bits of an error flag
DELIMITER = 8  # recessive bits after it
SUSPEND = 8  # bits an error-passive sender waits after intermission
QUIET_RUN = 11  # recessive bits that count as one step of recovery


@dataclass(frozen=True, slots=True)
class Strike:
    """A bit that one controller, and only that one, reads wrong."""

    bit: int
    controller: Controller


class Disturbance(Protocol):
    """The wiring's share: which bits of a frame are misread, and by whom."""

    def __call__(self, start_ns: int, sender: Controller, wire: Wire) -> tuple[Strike, ...]:
        """Strikes on the frame that `sender` starts at `start_ns`, before its CRC delimiter."""


@dataclass(frozen=True, slots=True)
class _Trouble:
    """Something that happens at a bit of a frame, and the action that says whether the frame ends there."""

    bit: int
    ends_frame: Callable[[], bool]


@dataclass(slots=True)
class _Flight:
    """One frame on its way: who sends it, and who has already lost it for itself alone."""

    start_ns: int
    senders: list[Controller]
    wire: Wire
    missed: set[Controller]


class Bus:
    """The bus and everything attached to it.

    Args:
        bit_rate: bits per second.
        disturbance: what the wiring does to frames; None for sound wiring.

    """

    def __init__(self, bit_rate: int, disturbance: Disturbance | None = None) -> None:
        self.bit_rate = bit_rate
        self.disturbance = disturbance
        self.controllers: list[Controller] = []
        self.now_ns = 0
        self._events: list[tuple[int, int, Callable[[int], None]]] = []
        self._serial = 0
        self._free_ns = 0  # intermission over
        self._recessive_since_ns = 0  # end of the last dominant bit

    def attach(self, controller: Controller) -> Controller:
        """Connect a controller."""
        self.controllers.append(controller)
        return controller

    def at(self, time_ns: int, action: Callable[[int], None]) -> None:
        """Call `action(time_ns)` at a time to come; actions of the same time run in the order given."""
        self._serial += 1
        heapq.heappush(self._events, (time_ns, self._serial, action))

    def bits_ns(self, bits: int) -> int:
        """How long so many bits last."""
        return bits * 1_000_000_000 // self.bit_rate

    def run(self, until_ns: int) -> None:
        """Let time pass. Frames that start before `until_ns` may end after it and are then not told."""
        while True:
            event = self._events[0][0] if self._events else FAR
            start = self._next_start_ns()
            recovered, controller = self._next_recovery()
            now = min(event, start, recovered)
            if now > until_ns:
                return
            self.now_ns = now
            if event == now:
                _, _, action = heapq.heappop(self._events)
                action(now)
            elif recovered == now and controller:
                controller.restart(now)
            else:
                self._send(now)

    # Who goes next

    def _next_start_ns(self) -> int:
        ready = [c.may_start_ns for c in self.controllers if c.waiting and c.on_bus]
        return max(self._free_ns, self.now_ns, min(ready)) if ready else FAR

    def _next_recovery(self) -> tuple[int, Controller | None]:
        waiting = [c for c in self.controllers if c.recovering_since_ns < FAR]
        if not waiting:
            return FAR, None
        times = [(self._recovered_ns(controller), n) for n, controller in enumerate(waiting)]
        time, n = min(times)
        return max(time, self.now_ns), waiting[n]

    def _recovered_ns(self, controller: Controller) -> int:
        """When the controller will have seen enough silence, should nobody send from now on."""
        left = RECOVERY_SEQUENCES - controller.recessive_runs
        return max(self._recessive_since_ns, controller.recovering_since_ns) + self.bits_ns(QUIET_RUN * left)

    def _count_silence(self, until_ns: int) -> None:
        for controller in self.controllers:
            if controller.recovering_since_ns < until_ns:
                silent = until_ns - max(self._recessive_since_ns, controller.recovering_since_ns)
                controller.recessive_runs += max(0, silent) // self.bits_ns(QUIET_RUN)

    # One frame

    def _send(self, start_ns: int) -> None:
        self._count_silence(start_ns)
        ready = [c for c in self.controllers if c.waiting and c.on_bus and c.may_start_ns <= start_ns]
        strongest = min(c.head.rank for c in ready)
        senders = [c for c in ready if c.head.rank == strongest]  # several, if they send the same identifier
        flight = _Flight(start_ns, senders, _wire_of(senders[0]), set())
        for trouble in self._troubles(flight):
            if trouble.ends_frame():
                return
        self._complete(flight)

    def _troubles(self, flight: _Flight) -> list[_Trouble]:
        """What goes wrong on this frame, in order of bits."""
        troubles = []
        alone = len(flight.senders) == 1
        clash = None if alone else first_difference([_wire_of(sender) for sender in flight.senders])
        if clash is not None:
            troubles.append(_Trouble(clash, partial(self._clash, flight, clash)))
        if self.disturbance:
            strikes = self.disturbance(flight.start_ns, flight.senders[0], flight.wire)
            troubles += [_Trouble(strike.bit, partial(self._strike, flight, strike)) for strike in strikes]
        if alone:  # of several that send the very same bits the others carry the frame through
            cut = self._cut_at(flight, flight.senders[0])
            if cut is not None:
                troubles.append(_Trouble(cut, partial(self._abort, flight, cut, flight.senders[0], gone=True)))
        return sorted(troubles, key=lambda trouble: trouble.bit)

    def _clash(self, flight: _Flight, bit: int) -> bool:
        """Two devices send the same identifier with different data: whoever sends recessive sees a bit error."""
        losers = [sender for sender in flight.senders if _wire_of(sender).levels[bit] == "1"]
        winners = [sender for sender in flight.senders if sender not in losers]
        flight.wire = _wire_of(winners[0])
        loud = [loser for loser in losers if loser.counters.active]
        if loud:
            return self._abort(flight, bit, loud[0])
        flight.senders = winners  # passive flags are recessive and disturb nobody
        error = BusError(ErrorKind.BIT_1, flight.wire.places[bit], sending=True)
        for loser in losers:
            flight.missed.add(loser)
            self._blame(loser, self._after(flight, bit), error)
        return False

    def _strike(self, flight: _Flight, strike: Strike) -> bool:
        bit, who = strike.bit, strike.controller
        if who in flight.senders:
            return self._abort(flight, bit, who)
        if not who.on_bus or who in flight.missed:
            return False
        if who.acknowledges and who.counters.active:
            return self._abort(flight, bit, who)
        flight.missed.add(who)  # it cannot or must not tell the others
        self._blame(who, self._after(flight, bit), as_origin(flight.wire, bit, sending=False))
        return False

    def _cut_at(self, flight: _Flight, sender: Controller) -> int | None:
        """Last bit out before the sender's power fails, or None when the frame is through by then."""
        bits = (sender.power_lost_ns - flight.start_ns) * self.bit_rate // 1_000_000_000
        return int(bits) - 1 if 0 < bits < flight.wire.first(Place.CRC_DELIMITER) else None

    def _complete(self, flight: _Flight) -> None:
        """The frame came through; whether it counts as sent depends on the ACK slot."""
        wire = flight.wire
        slot = wire.first(Place.ACK_SLOT)
        others = [c for c in self.controllers if c.on_bus and c not in flight.senders and c not in flight.missed]
        acknowledged = any(c.acknowledges for c in others)
        if not acknowledged and any(sender.counters.active for sender in flight.senders):
            self._abort(flight, slot, flight.senders[0])
            return
        end_ns = self._after(flight, len(wire.levels) - 1)
        if acknowledged:
            self._recessive_since_ns = self._after(flight, slot)
            self._free_ns = flight.start_ns + self.bits_ns(wire.length)
            for sender in flight.senders:
                sender.take_head()
                if sender.power_lost_ns > end_ns:
                    self.at(end_ns, partial(self._tell_sender, sender, wire.frame))
        else:  # a passive flag disturbs nobody: whoever listens sees a good frame
            self._recessive_since_ns = self._after(flight, slot - 1)
            self._free_ns = self._after(flight, slot + FLAG + DELIMITER + INTERMISSION)
            for sender in flight.senders:
                self._blame(sender, self._after(flight, slot), as_origin(wire, slot, sending=True))
        self.at(end_ns, partial(_tell_receivers, others, wire.frame))

    def _tell_sender(self, sender: Controller, frame: Frame, now_ns: int) -> None:
        sender.tell_frame(now_ns, frame, own=True)
        self._hold_back(sender)

    # Errors

    def _abort(self, flight: _Flight, bit: int, origin: Controller, *, gone: bool = False) -> bool:
        """End a frame with error flags after `bit`, which `origin` found wrong (or after which its power failed)."""
        wire = flight.wire
        loud = origin.counters.active and not gone
        others = [c for c in self.controllers if c.on_bus and c is not origin and c not in flight.missed]
        senders = [c for c in others if c in flight.senders]
        receivers = [c for c in others if c not in flight.senders]
        seen = noticed_at(wire, bit, dominant=loud)
        spoilt = wire.levels.index("1", bit + 1)  # the first recessive bit that comes out dominant
        flags = [bit + 1] if loud else []
        flags += [spoilt + 1] if any(c.counters.active for c in senders) else []
        flags += [seen + 1] if any(c.counters.active and c.acknowledges for c in receivers) else []
        last = max(flags) + FLAG - 1 if flags else bit
        self._recessive_since_ns = self._after(flight, last)
        self._free_ns = self._after(flight, last + (0 if flags else FLAG) + DELIMITER + INTERMISSION)

        if not gone:
            error = as_origin(wire, bit, sending=origin in flight.senders)
            self._blame(origin, self._after(flight, bit), error, dominant_after=last > bit + FLAG)
        for receiver in receivers:
            error = as_noticed(wire, seen, dominant=loud)
            self._blame(receiver, self._after(flight, seen), error, dominant_after=last > seen + FLAG)
        for sender in senders:
            error = BusError(ErrorKind.BIT_1, wire.places[spoilt], sending=True)
            self._blame(sender, self._after(flight, spoilt), error)
        return True

    def _blame(self, controller: Controller, time_ns: int, error: BusError, *, dominant_after: bool = False) -> None:
        self.at(time_ns, partial(self._count_error, controller, error, dominant_after))

    def _count_error(self, controller: Controller, error: BusError, dominant_after: bool, now_ns: int) -> None:
        if not controller.on_bus:
            return
        if error.kind is ErrorKind.ACK:
            controller.counters.not_acknowledged()
        elif error.sending:
            controller.counters.sent_error_flag()
        elif controller.acknowledges:
            controller.counters.received_error(dominant_after_flag=dominant_after)
        if error.sending:
            self._hold_back(controller)
        controller.tell_error(now_ns, error)

    def _hold_back(self, sender: Controller) -> None:
        """An error-passive controller that has just sent waits a little longer than the others."""
        sender.may_start_ns = self._free_ns + (0 if sender.counters.active else self.bits_ns(SUSPEND))

    def _after(self, flight: _Flight, bit: int) -> int:
        """End of a bit, counted from 0."""
        return flight.start_ns + self.bits_ns(bit + 1)


def _wire_of(controller: Controller) -> Wire:
    return on_the_wire(controller.head)


def _tell_receivers(controllers: list[Controller], frame: Frame, now_ns: int) -> None:
    for controller in controllers:
        if controller.on_bus:
            controller.tell_frame(now_ns, frame, own=False)
