"""A simulated CAN bus for emulated adapters: who waits to send, who wins, how long it takes, who acknowledges.

Time comes in from outside (`advance`), so the bus runs in real time behind emulated serial lines, or at once in a
test. Frames take their exact length on the wire. It is a bus for adapters, not for electronics: a node with the wrong
bit rate that takes part destroys what it meets, which is what a real one does with its error flags.
"""

from __future__ import annotations

import heapq
import itertools
from collections import deque
from collections.abc import Iterator
from dataclasses import dataclass
from typing import NamedTuple, Protocol

from linkcheck.frames import ERROR, EXTENDED, FrameBatch, wire_bits

__all__ = ["EmulatedBus", "Frame", "Node", "traffic_of"]

_ERROR_FLAG_BITS = 23  # error flag and echo (12), delimiter (8), intermission (3): ISO 11898-1


class Frame(NamedTuple):
    """One frame: flags as in `FrameBatch`; `length` is what a remote frame asks for, else the payload's."""

    identifier: int
    flags: int
    length: int
    payload: bytes


class Node(Protocol):
    """Whatever hangs on the bus."""

    bit_rate: int | None  # None: not on the bus
    active: bool  # acknowledges, and flags errors

    def hear(self, time_ns: int, frame: Frame) -> None:
        """A whole frame was on the bus."""

    def hear_error(self, time_ns: int) -> None:
        """A frame was destroyed."""

    def sent(self, time_ns: int, frame: Frame, *, acknowledged: bool) -> None:
        """One of this node's frames was on the bus."""


@dataclass(order=True, slots=True)
class _Waiting:
    due_ns: int
    number: int
    frame: Frame
    sender: Node | None
    tries: int = 0
    bits: int = 0  # on the wire, once they were counted


def traffic_of(batch: FrameBatch, *, loop: bool = True) -> Iterator[tuple[int, Frame]]:
    """A capture's frames, errors left out, as the truck's own traffic: (nanoseconds from the start, frame)."""
    begin = int(batch.time_ns[0])
    frames = [
        (int(t) - begin, Frame(int(i), int(f) & EXTENDED, int(n), batch.payload(row)))
        for row, (t, i, f, n) in enumerate(zip(batch.time_ns, batch.identifier, batch.flags, batch.length, strict=True))
        if not f & ERROR
    ]
    span = frames[-1][0] + 1_000_000
    for lap in itertools.count():
        for at, frame in frames:
            yield lap * span + at, frame
        if not loop:
            return


class EmulatedBus:
    """One bus.

    Args:
        bit_rate: what the truck's modules run at.
        start_ns: the time it begins.
        traffic: the truck's own frames in order of time, see `traffic_of`; they acknowledge each other.
        modules: whether there are modules that acknowledge adapters' frames; None: there are if there is traffic.

    Attributes:
        disturbed: frames destroyed by a node with the wrong bit rate that took part.
        silenced: source addresses whose frames are left out just now. on_bus: frames carried so far.

    """

    def __init__(
        self,
        bit_rate: int = 250_000,
        start_ns: int = 0,
        traffic: Iterator[tuple[int, Frame]] | None = None,
        *,
        modules: bool | None = None,
    ) -> None:
        self.bit_rate, self.now_ns = bit_rate, start_ns
        self.modules = traffic is not None if modules is None else modules
        self.nodes: list[Node] = []
        self.silenced: set[int] = set()
        self.muted = False
        self.disturbed = self.on_bus = self.errors = 0
        self._start_ns = start_ns
        self._traffic = traffic
        self._next = next(traffic, None) if traffic else None
        self._queue: list[_Waiting] = []  # by due time
        self._count = itertools.count()
        self._free_ns = start_ns
        self._destroy: deque[int] = deque()

    @property
    def idle(self) -> bool:
        """Whether nobody waits to send, and nobody will unless told to."""
        return not self._queue and self._next is None and not self._destroy

    def put(self, frame: Frame, sender: Node | None = None, due_ns: int | None = None) -> None:
        """Wait for the bus with a frame."""
        heapq.heappush(self._queue, _Waiting(due_ns or self.now_ns, next(self._count), frame, sender))

    def withdraw(self, sender: Node) -> None:
        """Forget what a node still wants to send."""
        self._queue = [waiting for waiting in self._queue if waiting.sender is not sender]
        heapq.heapify(self._queue)

    def break_frames(self, count: int) -> None:
        """Destroy the next frames, as a bad contact does; with nothing on the bus, a lone glitch each."""
        self._destroy.extend([1] * count)

    def advance(self, now_ns: int) -> None:
        """Let time pass up to `now_ns`: frames that end by then are delivered."""
        self._take_traffic(now_ns)
        self.now_ns = now_ns
        if not self._queue and self._destroy:
            self._destroy.popleft()
            self._error(now_ns)
        ready: list[tuple[int, _Waiting]] = []  # those who wait already, by identifier: the lowest wins
        self._measure()
        while self._queue or ready:
            if not ready:
                self._free_ns = max(self._free_ns, self._queue[0].due_ns)
            while self._queue and self._queue[0].due_ns <= self._free_ns:
                waiting = heapq.heappop(self._queue)
                heapq.heappush(ready, (_rank(waiting.frame), waiting))
            _, winner = ready[0]
            end = self._free_ns + winner.bits * 1_000_000_000 // self.bit_rate
            if end > now_ns:
                break
            heapq.heappop(ready)
            self._carry(winner, end)
        for _, waiting in ready:
            heapq.heappush(self._queue, waiting)

    def _take_traffic(self, now_ns: int) -> None:
        while self._next is not None and self._traffic is not None and self._start_ns + self._next[0] <= now_ns:
            at, frame = self._next
            if not self.muted and not (frame.flags & EXTENDED and frame.identifier & 0xFF in self.silenced):
                self.put(frame, None, self._start_ns + at)
            self._next = next(self._traffic, None)

    def _measure(self) -> None:
        """Bits on the wire of those that are new."""
        new = [waiting for waiting in self._queue if not waiting.bits]
        if new:
            rows = [(0, 0, w.frame.identifier, w.frame.flags, w.frame.length, w.frame.payload) for w in new]
            for waiting, bits in zip(new, wire_bits(FrameBatch.from_rows(rows, ("bus",))).tolist(), strict=True):
                waiting.bits = bits

    def _carry(self, winner: _Waiting, end_ns: int) -> None:
        others = [node for node in self.nodes if node is not winner.sender and node.bit_rate is not None]
        matching = [node for node in others if node.bit_rate == self.bit_rate]
        wrong_sender = winner.sender is not None and winner.sender.bit_rate != self.bit_rate
        hurt = wrong_sender or any(node.active for node in others if node.bit_rate != self.bit_rate)
        if hurt or self._destroy:
            self.disturbed += hurt
            if self._destroy:
                self._destroy.popleft()
            self._error(end_ns)
            self._again(winner)
            return
        acknowledged = self.modules or any(node.active for node in matching)
        self._free_ns = end_ns
        if winner.sender is None or acknowledged:
            self.on_bus += 1
            for node in matching:
                node.hear(end_ns, winner.frame)
            for node in others:
                if node.bit_rate != self.bit_rate:
                    node.hear_error(end_ns)
        else:
            for node in others:
                if node.bit_rate != self.bit_rate:  # it sees the bits, whoever acknowledges them
                    node.hear_error(end_ns)
            self._again(winner)
        if winner.sender is not None:
            winner.sender.sent(end_ns, winner.frame, acknowledged=acknowledged)

    def _again(self, winner: _Waiting) -> None:
        """A frame that did not get through is sent again, after an error flag."""
        self._free_ns = max(self._free_ns, winner.due_ns) + _ERROR_FLAG_BITS * 1_000_000_000 // self.bit_rate
        if winner.sender is not None or winner.tries < 3:
            winner.tries += 1
            winner.due_ns = self._free_ns + 1_000_000  # not at once: nobody needs a flood of repetitions
            heapq.heappush(self._queue, winner)

    def _error(self, time_ns: int) -> None:
        self.errors += 1
        for node in self.nodes:
            if node.bit_rate is not None:
                node.hear_error(time_ns)


def _rank(frame: Frame) -> int:
    """Order of arbitration: lower wins; 11-bit before 29-bit with the same first bits."""
    return frame.identifier << 1 | 1 if frame.flags & EXTENDED else frame.identifier << 19
