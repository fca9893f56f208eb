"""One module (electronic control unit) of the invented truck: when it sends what, and how it answers.

It claims its address when power comes, sends its messages by its own clock, answers requests, and tells the trouble
codes it holds. What is in the messages, `payloads` and `truck` say.
"""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import dataclass, field

from linkcheck.j1939.identifier import GLOBAL, NULL, join, split
from linkcheck.j1939.messages import ACKNOWLEDGEMENT, ADDRESS_CLAIM, DM1, DM2, REQUEST, TP_CM, TP_DT
from linkcheck.j1939.name import Name
from linkcheck.practice.bus import Bus
from linkcheck.practice.codes import Code, CodeMemory
from linkcheck.practice.controller import FAR, Controller
from linkcheck.practice.plant import Plant
from linkcheck.practice.signalling import BusError
from linkcheck.practice.transport import Transport
from linkcheck.practice.wire import Frame

__all__ = ["Module", "ModulePlan", "Sending"]

MS = 1_000_000
SECOND = 1_000_000_000
CODE_PERIOD_MS = 1000.0  # DM1 while powered (SAE J1939-73)
LOOK_NS = 100 * MS
JITTER = 0.02  # how far a message strays from its time, in periods


@dataclass(frozen=True, slots=True)
class Sending:
    """A message sent again and again.

    Attributes:
        pgn, priority, period_ms, destination: as on the bus; the period by the module's own clock.
        payload: of the truck, the time in seconds and the number of the message, its bytes.
        only_if: sends only while this holds; None for always.

    """

    pgn: int
    priority: int
    period_ms: float
    payload: Callable[[Plant, float, int], bytes]
    destination: int = GLOBAL
    only_if: Callable[[Plant, float], bool] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ModulePlan:
    """What a module is.

    Attributes:
        address, name: what it claims.
        boot_ms: from power to the claim.
        sendings: its periodic messages.
        answers: what it says when asked for a group.
        watches: address of another module to the codes set when that one falls silent.
        tells_codes: whether it sends DM1, as everything on board does.
        yields: whether it leaves an address it has lost to a lower NAME, as it must.

    """

    address: int
    name: Name
    boot_ms: float = 120.0
    sendings: tuple[Sending, ...] = ()
    answers: dict[int, bytes] = field(default_factory=dict)
    watches: dict[int, tuple[Code, ...]] = field(default_factory=dict)
    tells_codes: bool = True
    yields: bool = True


class Module:
    """A module on a bus, with its own clock.

    Args:
        plan: what it is.
        bus, controller: how it is connected.
        plant: the truck it measures.
        chance: its own random numbers.
        clock: how long its second is, 1 for exact.

    """

    def __init__(
        self,
        plan: ModulePlan,
        bus: Bus,
        controller: Controller,
        plant: Plant,
        chance: random.Random,
        *,
        clock: float,
    ) -> None:
        self.plan = plan
        self.controller = controller
        self.codes = CodeMemory(plan.watches)
        self.talking = False  # its claim is out
        self.bus_offs_ns: list[int] = []
        self._bus = bus
        self._plant = plant
        self._chance = chance
        self._clock = clock
        self._life = 0  # counts power-ups: what was planned in an earlier life is void
        self._transport = Transport(self)
        controller.drivers.append(self)
        controller.powered = False

    # Power

    def power_on(self, now_ns: int) -> None:
        """Wake up: claim the address, then begin to talk."""
        self.controller.power(on=True)
        self._life += 1
        self.codes.wake(now_ns)
        self.later(int(self.plan.boot_ms * MS), self._begin)

    def power_off(self, _now_ns: int) -> None:
        """Fall silent in the middle of whatever it was doing."""
        self._life += 1
        self.controller.power(on=False)
        self._transport.reset()

    def lose_power(self, cuts_ns: tuple[tuple[int, int], ...]) -> None:
        """Plan power cuts (from, to), in order of time."""
        lost = [lost_ns for lost_ns, _ in cuts_ns]
        self.controller.power_lost_ns = min(lost, default=FAR)
        for (lost_ns, back_ns), next_lost_ns in zip(cuts_ns, [*lost[1:], FAR], strict=False):

            def cut(now_ns: int, next_lost_ns: int = next_lost_ns) -> None:
                self.power_off(now_ns)
                self.controller.power_lost_ns = next_lost_ns

            self._bus.at(lost_ns, cut)
            self._bus.at(back_ns, self.power_on)

    # Sending

    def send(
        self, pgn: int, data: bytes, *, priority: int = 6, destination: int = GLOBAL, replace: bool = True
    ) -> None:
        """Queue one frame, or hand a longer message to the transport."""
        if len(data) > 8:
            self._transport.send(pgn, data, destination)
            return
        identifier = join(priority, pgn, self.plan.address, destination)
        self.controller.offer(Frame(identifier, data), replace=replace)

    def later(self, delay_ns: int, action: Callable[[], None]) -> None:
        """Do something after a while, unless the power fails before."""
        life = self._life

        def wake(_now_ns: int) -> None:
            if life == self._life:
                action()

        self._bus.at(self._bus.now_ns + delay_ns, wake)

    def _begin(self) -> None:
        self.talking = False
        self.claim()

    def _talk(self) -> None:
        """The claim is out: everything else may follow (an address below 128 need not wait, SAE J1939-81)."""
        self.talking = True
        for sending in self.plan.sendings:
            self._repeat(sending)
        if self.plan.tells_codes:
            self._repeat(Sending(DM1, 6, CODE_PERIOD_MS, lambda *_: self.codes.active_message()))
        if self.plan.watches:
            self.later(LOOK_NS, self._look_around)

    def claim(self, source: int | None = None) -> None:
        """Claim the address, or say from the null address that there is none to have."""
        identifier = join(6, ADDRESS_CLAIM, self.plan.address if source is None else source, GLOBAL)
        self.controller.offer(Frame(identifier, self.plan.name.to_bytes()))

    def _repeat(self, sending: Sending) -> None:
        period_ns = sending.period_ms * MS * self._clock
        first_ns = self._bus.now_ns + 20 * MS + self._chance.random() * period_ns

        def tick(number: int) -> None:
            t = self._bus.now_ns / SECOND
            if sending.only_if is None or sending.only_if(self._plant, t):
                data = sending.payload(self._plant, t, number)
                self.send(sending.pgn, data, priority=sending.priority, destination=sending.destination)
            plan(number + 1)

        def plan(number: int) -> None:
            stray = self._chance.uniform(-JITTER, JITTER)
            due_ns = int(first_ns + (number + stray) * period_ns)
            self.later(max(0, due_ns - self._bus.now_ns), lambda: tick(number))

        plan(0)

    # Receiving

    def on_frame(self, time_ns: int, frame: Frame, *, own: bool) -> None:
        """Act on what others send."""
        if not frame.extended:
            return
        who = split(frame.identifier)
        if own:
            if who.pgn == ADDRESS_CLAIM and not self.talking:
                self._talk()
            return
        self.codes.heard(who.source, time_ns)
        if who.pgn == ADDRESS_CLAIM and who.source == self.plan.address:
            self._contest(Name.from_bytes(frame.data))
        elif who.pgn == REQUEST and who.destination in (self.plan.address, GLOBAL):
            self._answer(int.from_bytes(frame.data[:3], "little"), who.source, to_all=who.destination == GLOBAL)
        elif who.destination == self.plan.address and who.pgn == TP_CM:
            self._transport.on_control(who.source, frame.data)
        elif who.destination == self.plan.address and who.pgn == TP_DT:
            self._transport.on_data(who.source)

    def on_error(self, time_ns: int, error: BusError) -> None:  # noqa: ARG002  only the last of them matters here
        """Note when the controller had to leave the bus."""
        if not self.controller.on_bus:
            self.bus_offs_ns.append(time_ns)

    def on_restart(self, _time_ns: int) -> None:
        """Back from bus-off: start over as after power-up."""
        self._life += 1
        self._transport.reset()
        self._begin()

    def _contest(self, other: Name) -> None:
        """Another device claims this address: the lower NAME keeps it (SAE J1939-81)."""
        if self.plan.name.wins_over(other):
            self.later(int(self._chance.uniform(2, 150) * MS), self.claim)
        elif self.plan.yields:
            self._life += 1
            self.talking = True  # it has said its last word
            self.controller.forget()
            self.claim(NULL)

    def _answer(self, pgn: int, asker: int, *, to_all: bool) -> None:
        delay_ns = int(self._chance.uniform(4, 30) * MS)
        if pgn == ADDRESS_CLAIM:
            self.later(delay_ns, self.claim)
        elif pgn == DM2:
            self.later(delay_ns, lambda: self.send(DM2, self.codes.past_message(), replace=False))
        elif pgn in self.plan.answers:
            data = self.plan.answers[pgn]
            long_to_one = len(data) > 8 and not to_all
            destination = asker if long_to_one else GLOBAL
            self.later(delay_ns, lambda: self.send(pgn, data, destination=destination, replace=False))
        elif not to_all:  # negative acknowledgement, to everyone, naming the asker
            refusal = bytes([1, 0xFF, 0xFF, 0xFF, asker]) + pgn.to_bytes(3, "little")
            self.later(delay_ns, lambda: self.send(ACKNOWLEDGEMENT, refusal, replace=False))

    def _look_around(self) -> None:
        if self.codes.look(self._bus.now_ns):
            self.send(DM1, self.codes.active_message())
        self.later(LOOK_NS, self._look_around)
