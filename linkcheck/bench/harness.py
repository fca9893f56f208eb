"""The bench harness as the tests see it: two sides, opened as a test needs them, and frames carried between them.

One thread reads both ports in turn. Time is the ports' own clock, so that the same tests run on emulated adapters in
no time at all. What is judged, and how, is not decided here.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Literal, Protocol

from linkcheck.bench.frames import BenchFrame, bits_of
from linkcheck.frames import ERROR, REMOTE, SENT
from linkcheck.frames.records import RECORD_FORMAT
from linkcheck.live.port import Port, PortRefusedError, PortSpec

__all__ = ["Carried", "Harness", "Heard", "Opener", "Side", "Spy", "other"]

Side = Literal["a", "b"]

_PATIENCE_S = 0.3  # nothing new for so long: what has not come is lost
_IN_VAIN = 4
_READ_S = 0.001


class Spy(Protocol):
    """Sees the characters an adapter on a serial line sends: time, block."""

    def __call__(self, time_ns: int, block: bytes) -> None:
        """Take a block."""


class Opener(Protocol):
    """How ports are opened, and what time it is. Time passes by itself, or because a port is read."""

    def open(self, side: Side, bit_rate: int, *, active: bool, accept_unproven: bool, spy: Spy | None) -> Port:
        """Open one side.

        Raises:
            PortRefusedError: it will not.

        """

    def spec(self, side: Side) -> PortSpec:
        """What is opened on a side."""

    def now_ns(self) -> int:
        """The clock of both ports' time stamps."""


@dataclass(frozen=True, slots=True)
class Heard:
    """A frame read from a port; `flags` as in `FrameBatch`, SENT included."""

    time_ns: int
    frame: BenchFrame
    flags: int


@dataclass(slots=True)
class Carried:
    """What a transfer brought.

    Attributes:
        sent: when each frame was handed over, and the frame. arrived: at the other side. echoes: the sender's own
            frames that its port reported. errors: error frames by side (class bits, detail bytes).
        began_ns, ended_ns: first frame handed over, last one arrived.
        refused: frames the sender's adapter said it could not take; they were never on the bus.

    """

    sent: list[tuple[int, BenchFrame]] = field(default_factory=list)
    arrived: list[Heard] = field(default_factory=list)
    echoes: list[Heard] = field(default_factory=list)
    errors: dict[Side, list[tuple[int, bytes]]] = field(default_factory=lambda: {"a": [], "b": []})
    began_ns: int = 0
    ended_ns: int = 0
    refused: int = 0

    @property
    def load(self) -> float:
        """Share of the bit rate that arrived, times `bit_rate` in bit/s."""
        span_s = (self.ended_ns - self.began_ns) / 1e9
        return bits_of([heard.frame for heard in self.arrived]) / span_s if span_s > 0 else 0.0


class Harness:
    """Both sides. Close it when done.

    Args:
        opener: opens ports and knows the time.
        accept_unproven: interfaces that cannot prove silence will do where a test wants a listener.

    """

    def __init__(self, opener: Opener, *, accept_unproven: bool = False) -> None:
        self.opener = opener
        self.accept_unproven = accept_unproven
        self.ports: dict[Side, Port] = {}

    def open(self, side: Side, bit_rate: int, *, active: bool = True, spy: Spy | None = None) -> Port:
        """Open a side anew.

        Raises:
            PortRefusedError: it will not.

        """
        self.close(side)
        port = self.opener.open(side, bit_rate, active=active, accept_unproven=self.accept_unproven, spy=spy)
        self.ports[side] = port
        return port

    def open_both(self, bit_rate: int) -> None:
        """Both sides, taking part in the bus."""
        self.open("b", bit_rate)
        self.open("a", bit_rate)

    def close(self, *sides: Side) -> None:
        """Close sides; all without arguments."""
        for side in sides or ("a", "b"):
            port = self.ports.pop(side, None)
            if port is not None:
                port.close()

    def now_ns(self) -> int:
        """The time."""
        return self.opener.now_ns()

    def send(self, side: Side, frame: BenchFrame) -> None:
        """Hand a frame over.

        Raises:
            PortLostError, PortRefusedError: it cannot be.

        """
        length = frame.length if frame.flags & REMOTE else None
        self.ports[side].send(frame.identifier, frame.flags, frame.payload, length)

    def listen(self, carried: Carried, sender: Side | None, seconds: float) -> None:
        """Read both open sides for a while into `carried`; frames at `sender` count as echoes.

        Raises:
            PortLostError: a side went away.

        """
        until = self.now_ns() + round(seconds * 1e9)
        while True:
            self.read(carried, sender)
            if self.now_ns() >= until:
                return

    def read(self, carried: Carried, sender: Side | None) -> None:
        """Read both open sides once."""
        for side, port in list(self.ports.items()):
            records = port.read(_READ_S).records
            for time_ns, identifier, flags, _, length, data in RECORD_FORMAT.iter_unpack(records):
                if flags & ERROR:
                    carried.errors[side].append((identifier, data[:8]))
                    continue
                payload = b"" if flags & REMOTE else data[:length]
                heard = Heard(time_ns, BenchFrame(identifier, flags & ~SENT, length, payload), flags)
                (carried.echoes if side == sender else carried.arrived).append(heard)

    def carry(
        self,
        frames: Sequence[BenchFrame],
        sender: Side,
        *,
        window: int = 8,
        pace_s: float = 0.0,
        patience_s: float = _PATIENCE_S,
        while_waiting: Callable[[], None] = lambda: None,
    ) -> Carried:
        """Send frames from one side and collect them at the other.

        Args:
            frames: in order.
            sender: the side that sends.
            window: frames that may be on their way at once.
            pace_s: least time between two frames.
            patience_s: how long nothing may arrive before what is missing counts as lost.
            while_waiting: called once a round, to show progress.

        Raises:
            PortLostError: a side went away.

        """
        carried = Carried(began_ns=self.now_ns())
        refused_before = getattr(self.ports[sender], "refused", 0)  # serial-line adapters answer every frame
        places = {frame: place for place, frame in enumerate(frames)}
        following = settled = in_vain = 0  # next to send; those before have come or count as lost; waits in a row
        next_ns, news_ns = 0, self.now_ns()
        while True:
            now = self.now_ns()
            while following < len(frames) and following - settled < window and now >= next_ns:
                try:
                    self.send(sender, frames[following])
                except PortRefusedError:
                    break  # its buffer is full: later
                now = news_ns = self.now_ns()
                carried.sent.append((now, frames[following]))
                following, next_ns = following + 1, now + round(pace_s * 1e9)
            before = len(carried.arrived)
            self.read(carried, sender)
            now = self.now_ns()
            for heard in carried.arrived[before:]:
                place = places.get(heard.frame, settled)  # a changed one stands for the next
                settled = max(settled, place + 1)
                news_ns, in_vain = now, 0
                carried.ended_ns = now
            while_waiting()
            if following == len(frames) and settled >= following:
                break
            if now - news_ns > patience_s * 1e9:
                settled, news_ns, in_vain = following, now, in_vain + 1
                if in_vain >= _IN_VAIN:
                    break  # nothing gets through any more
        # Doubled and late ones come behind the last.
        self.listen(carried, sender, 0.02)
        carried.refused = getattr(self.ports[sender], "refused", 0) - refused_before
        return carried


def other(side: Side) -> Side:
    """The opposite side."""
    return "b" if side == "a" else "a"
