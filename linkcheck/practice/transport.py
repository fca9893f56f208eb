"""Messages of more than eight bytes, as a module of the invented truck sends and takes them.

Only the well-behaved side of SAE J1939-21 transport: announcements to everyone (BAM) with 60 ms between packets (50 to
200 ms are allowed), and transfers to one address (RTS, CTS, data, end of message) two packets at a time.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable
from dataclasses import dataclass
from typing import Protocol

from linkcheck.j1939.identifier import GLOBAL
from linkcheck.j1939.messages import TP_CM, TP_DT

__all__ = ["Transport"]

MS = 1_000_000
PER_PACKET = 7
BAM_GAP_NS = 60 * MS
DATA_GAP_NS = 2 * MS
ANSWER_NS = 3 * MS
PER_CLEARANCE = 2  # packets the receiver asks for at a time
RTS, CTS, END, BAM = 16, 17, 19, 32
PRIORITY = 7


class Sender(Protocol):
    """What the transport needs of its module."""

    def send(
        self, pgn: int, data: bytes, *, priority: int = 6, destination: int = GLOBAL, replace: bool = True
    ) -> None:
        """Queue one frame."""

    def later(self, delay_ns: int, action: Callable[[], None]) -> None:
        """Do something after a while, unless the power fails before."""


@dataclass(slots=True)
class _Outgoing:
    pgn: int
    data: bytes
    destination: int

    @property
    def packets(self) -> int:
        return -(-len(self.data) // PER_PACKET)

    def packet(self, number: int) -> bytes:
        """Packet by its number, from 1."""
        part = self.data[(number - 1) * PER_PACKET : number * PER_PACKET]
        return bytes([number]) + part.ljust(PER_PACKET, b"\xff")

    def control(self, code: int, last: int = 0xFF) -> bytes:
        """An opening message: RTS or BAM."""
        size = len(self.data).to_bytes(2, "little")
        return bytes([code, *size, self.packets, last]) + self.pgn.to_bytes(3, "little")


class Transport:
    """The transport of one module: one announcement at a time, one transfer to each partner at a time."""

    def __init__(self, module: Sender) -> None:
        self._module = module
        self._announcements: deque[_Outgoing] = deque()
        self._sending: dict[int, _Outgoing] = {}
        self._receiving: dict[int, tuple[bytes, int]] = {}

    def reset(self) -> None:
        """Forget everything: the power failed."""
        self._announcements.clear()
        self._sending.clear()
        self._receiving.clear()

    def send(self, pgn: int, data: bytes, destination: int) -> None:
        """Send a long message to everyone or to one address."""
        message = _Outgoing(pgn, data, destination)
        if destination == GLOBAL:
            self._announcements.append(message)
            if len(self._announcements) == 1:
                self._announce()
        else:
            self._sending[destination] = message
            self._control(message.control(RTS, message.packets), destination)

    def on_control(self, source: int, data: bytes) -> None:
        """Answer a connection management message meant for this module."""
        if data[0] == RTS:
            self._receiving[source] = (data, 0)
            self._module.later(ANSWER_NS, lambda: self._clear_to_send(source))
        elif data[0] == CTS and source in self._sending:
            self._send_packets(self._sending[source], first=data[2], count=data[1])
        elif data[0] == END:
            self._sending.pop(source, None)

    def on_data(self, source: int) -> None:
        """Count a packet, and ask for more or say that all is there."""
        if source not in self._receiving:
            return
        opening, got = self._receiving[source]
        got += 1
        self._receiving[source] = (opening, got)
        if got == opening[3]:
            del self._receiving[source]
            answer = bytes([END]) + opening[1:4] + b"\xff" + opening[5:8]
            self._module.later(ANSWER_NS, lambda: self._control(answer, source))
        elif got % PER_CLEARANCE == 0:
            self._module.later(ANSWER_NS, lambda: self._clear_to_send(source))

    def _clear_to_send(self, source: int) -> None:
        opening, got = self._receiving[source]
        count = min(PER_CLEARANCE, opening[3] - got)
        self._control(bytes([CTS, count, got + 1, 0xFF, 0xFF]) + opening[5:8], source)

    def _announce(self) -> None:
        message = self._announcements[0]
        self._control(message.control(BAM), GLOBAL)

        def packet(number: int) -> None:
            self._module.send(TP_DT, message.packet(number), priority=PRIORITY, replace=False)
            if number < message.packets:
                self._module.later(BAM_GAP_NS, lambda: packet(number + 1))
                return
            self._announcements.popleft()
            if self._announcements:
                self._module.later(BAM_GAP_NS, self._announce)

        self._module.later(BAM_GAP_NS, lambda: packet(1))

    def _send_packets(self, message: _Outgoing, *, first: int, count: int) -> None:
        for step in range(count):
            data = message.packet(first + step)

            def packet(data: bytes = data) -> None:
                self._module.send(TP_DT, data, priority=PRIORITY, destination=message.destination, replace=False)

            self._module.later(step * DATA_GAP_NS + ANSWER_NS, packet)

    def _control(self, data: bytes, destination: int) -> None:
        self._module.send(TP_CM, data, priority=PRIORITY, destination=destination, replace=False)
