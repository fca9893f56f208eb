"""Several ports at once, each in its own process, as one stream of batches, events and counters.

The parent's side of `receiver`: starts the processes, collects what they send, and starts one again when its adapter
comes back. A port that goes away ends nothing here.
"""

from __future__ import annotations

import dataclasses
import json
import queue
import subprocess
import sys
import threading
import time
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import IO, Any

from linkcheck.frames import FrameBatch
from linkcheck.live.clock import SteadyClock
from linkcheck.live.merge import Merge
from linkcheck.live.open_port import IN_PROCESS
from linkcheck.live.port import Counters, PortEvent, PortFacts, PortRefusedError, PortSpec, Silence
from linkcheck.live.receiver import EVENT, FRAMES, HEADER, LOST, READY, REFUSED, TICK, Receiver

__all__ = ["Delivery", "Listener"]

OPEN_S = 15.0  # until a port must have opened: some drivers are slow
AGAIN_S = 1.0
HOLD_NS = 2_000_000_000  # no port waits longer than this for a slower one
# Isolated, with this program's own module path: nothing is imported from the folder the user happens to be in.
_CHILD = (
    "import json, sys; sys.path[:] = json.loads(sys.argv[1]); "
    "from linkcheck.live.receiver import main; main(*sys.argv[2:])"
)

_Message = tuple["_Reception", bytes, bytes]


@dataclass(frozen=True, slots=True, eq=False)
class Delivery:
    """What came since the last one.

    Attributes:
        batch: the frames, in order of time. events: channel name and event.
        now_ns: for each open channel, the time up to which everything that arrived has been delivered.

    """

    batch: FrameBatch
    events: list[tuple[str, PortEvent]] = field(default_factory=list)
    now_ns: dict[str, int] = field(default_factory=dict)


class _Reception:
    """One port's receiving process (or thread, for interfaces that reach no other process)."""

    def __init__(self, spec: PortSpec, inbox: queue.SimpleQueue[_Message], clock: SteadyClock) -> None:
        self.spec, self._inbox = spec, inbox
        self._child: subprocess.Popen[bytes] | None = None
        self._stop = threading.Event()
        if spec.interface in IN_PROCESS:
            self.receiver = Receiver(spec, self._take, self._stop, clock)
            self._thread = threading.Thread(target=self.receiver.run, daemon=True)
        else:
            arguments = [json.dumps(sys.path), json.dumps(dataclasses.asdict(spec)), str(clock.start)]
            self._child = subprocess.Popen(  # noqa: S603  # our own module
                [sys.executable, "-I", "-c", _CHILD, *arguments],
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                stderr=subprocess.DEVNULL,
            )
            self._thread = threading.Thread(target=self._pass_on, args=(self._child.stdout,), daemon=True)
        self._thread.start()

    def _take(self, kind: bytes, body: bytes) -> bool:
        self._inbox.put((self, kind, body))
        return True

    def _pass_on(self, pipe: IO[bytes]) -> None:
        while len(head := pipe.read(HEADER.size)) == HEADER.size:
            kind, size = HEADER.unpack(head)
            self._take(kind, pipe.read(size))
        self._take(LOST, b"")

    def send(self, order: dict[str, Any]) -> None:
        if self._child is None:
            self.receiver.orders.append(order)
        elif self._child.stdin:
            try:
                self._child.stdin.write(json.dumps(order).encode() + b"\n")
                self._child.stdin.flush()
            except OSError:
                return  # it went away; its loss is told by the other pipe

    def close(self) -> None:
        self._stop.set()
        if self._child is not None:
            if self._child.stdin:
                self._child.stdin.close()
            try:
                self._child.wait(3)
            except subprocess.TimeoutExpired:
                self._child.kill()
                self._child.wait()
        self._thread.join(3)
        if self._child is not None and self._child.stdout:
            self._child.stdout.close()


class Listener:
    """Listens on ports until closed.

    Args:
        specs: the ports, each with a name of its own.
        reconnect: try a lost port again every second; otherwise only when `reconnect()` is called.

    Attributes:
        channels: the names, in order. facts: of each open port. lost: names of ports that are away just now.
        clock: of all time stamps.

    Raises:
        PortRefusedError: one of them could not be opened.

    """

    def __init__(self, specs: Sequence[PortSpec], *, reconnect: bool = True) -> None:
        self.channels = tuple(spec.name for spec in specs)
        self.clock = SteadyClock()
        self.facts: dict[str, PortFacts] = {}
        self.lost: set[str] = set()
        self._specs = {spec.name: spec for spec in specs}
        self._again = reconnect
        self._again_at: dict[str, float] = {}
        self._counters = {name: Counters() for name in self.channels}
        self._before = dict(self._counters)  # of processes that have ended
        self._inbox: queue.SimpleQueue[_Message] = queue.SimpleQueue()
        self._held: list[_Message] = []
        self._open: dict[str, _Reception] = {}
        self._now_ns: dict[str, int] = {}  # up to when each open port has delivered
        self._merge = Merge(self.channels)
        self._told: set[str] = set()  # ports whose refusal to come back was said
        for spec in specs:
            self._open[spec.name] = _Reception(spec, self._inbox, self.clock)
        try:
            self._wait_until_open()
        except BaseException:
            self.close()
            raise

    def _wait_until_open(self) -> None:
        until = time.monotonic() + OPEN_S
        while set(self.facts) != set(self.channels):
            try:
                message = self._inbox.get(timeout=max(0.0, until - time.monotonic()))
            except queue.Empty:
                silent = ", ".join(sorted(set(self.channels) - set(self.facts)))
                raise PortRefusedError(f"The driver of {silent} does not come up.", reason="mute") from None
            reception, kind, body = message
            if kind == REFUSED:
                words = json.loads(body)
                raise PortRefusedError(words["what"], reason=words["reason"], where=words["where"], todo=words["todo"])
            if kind == LOST:
                raise PortRefusedError("The driver broke off.", reason="absent", where=reception.spec.channel)
            if kind == READY:
                self._ready(reception, body)
            else:
                self._held.append(message)

    def _ready(self, reception: _Reception, body: bytes) -> None:
        facts = json.loads(body)
        facts |= {"silence": Silence(facts["silence"]), "notes": tuple(facts["notes"])}
        self.facts[reception.spec.name] = PortFacts(**facts)

    def poll(self, timeout_s: float = 0.05) -> Delivery:
        """What came since, waiting at most `timeout_s` for the first of it."""
        self._try_again()
        messages, self._held = self._held, []
        try:
            if not messages:
                messages.append(self._inbox.get(timeout=timeout_s))
            while True:
                messages.append(self._inbox.get_nowait())
        except queue.Empty:
            pass
        events: list[tuple[str, PortEvent]] = []
        for reception, kind, body in messages:
            name = reception.spec.name
            if kind == FRAMES:
                self._merge.add(self.channels.index(name), body)
            elif self._open.get(name) is reception:
                self._hear(reception, kind, body, events)
        complete_ns = self._complete_ns()
        now_ns = {name: now if complete_ns is None else min(now, complete_ns) for name, now in self._now_ns.items()}
        return Delivery(self._merge.take(complete_ns), events, now_ns)

    def _hear(self, reception: _Reception, kind: bytes, body: bytes, events: list[tuple[str, PortEvent]]) -> None:
        name = reception.spec.name
        words = json.loads(body) if body else {}
        if kind == TICK:
            self._counters[name] = Counters(**words["counters"])
            self._now_ns[name] = words["now_ns"]
        elif kind == EVENT:
            events.append((name, PortEvent(**words)))
        elif kind == READY:
            self._ready(reception, body)
            self.lost.discard(name)
            self._told.discard(name)
            events.append((name, PortEvent(self.clock.now_ns(), "reopened", "the port is open again")))
        elif kind in (LOST, REFUSED):
            self._away(reception, kind, words, events)

    def _away(
        self, reception: _Reception, kind: bytes, words: dict[str, Any], events: list[tuple[str, PortEvent]]
    ) -> None:
        name = reception.spec.name
        reception.close()
        del self._open[name]
        self._now_ns.pop(name, None)
        self._before[name] = _sum(self._before[name], self._counters[name])
        self._counters[name] = Counters()
        self._again_at[name] = time.monotonic() + AGAIN_S
        self.lost.add(name)
        if kind == LOST:
            text = words.get("text", "the receiving process broke off")
            events.append((name, PortEvent(words.get("time_ns", self.clock.now_ns()), "lost", text)))
        elif name not in self._told and words.get("reason") != "absent":
            self._told.add(name)
            events.append((name, PortEvent(self.clock.now_ns(), "refused", f"{words['what']} {words['todo']}")))

    def _try_again(self) -> None:
        now = time.monotonic()
        for name in list(self.lost):
            if self._again and name not in self._open and now >= self._again_at[name]:
                self._open[name] = _Reception(self._specs[name], self._inbox, self.clock)

    def reconnect(self) -> None:
        """Try every lost port again now."""
        for name in self.lost - set(self._open):
            self._open[name] = _Reception(self._specs[name], self._inbox, self.clock)

    def _complete_ns(self) -> int | None:
        """The time up to which every port has delivered; None for one port alone, and when all are closed."""
        if len(self.channels) == 1 or not self._now_ns:
            return None
        return max(min(self._now_ns.values()), max(self._now_ns.values()) - HOLD_NS)

    def counters(self) -> dict[str, Counters]:
        """What got lost so far, by channel, over all reconnections."""
        return {name: _sum(self._before[name], self._counters[name]) for name in self.channels}

    def send(self, name: str, identifier: int, flags: int, payload: bytes) -> None:
        """Put a frame on a bus; the port must have been opened to take part. A refusal comes as an event."""
        if name in self._open:
            self._open[name].send({"identifier": identifier, "flags": flags, "payload": payload.hex()})

    def close(self) -> None:
        """Leave all buses and end the processes. One more `poll` brings what they still had."""
        self._again = False
        for reception in self._open.values():
            reception.close()
        self._open.clear()
        self._now_ns.clear()


def _sum(before: Counters, now: Counters) -> Counters:
    def added(a: int | None, b: int | None) -> int | None:
        return None if a is None and b is None else (a or 0) + (b or 0)

    return Counters(
        added(before.adapter, now.adapter),
        added(before.kernel, now.kernel),
        before.ours + now.ours,
        before.damaged + now.damaged,
        now.tx_errors,
        now.rx_errors,
    )
