"""What every live interface looks like from above: `Port`, what it reads, what it says, and what it counts.

A port delivers frames as packed records (`linkcheck.frames.records`), because they cross from the receiving process
as bytes. No driver lives here.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum
from typing import Any, Protocol

from linkcheck.errors import DataError

__all__ = [
    "Counters",
    "Intake",
    "Port",
    "PortEvent",
    "PortFacts",
    "PortLostError",
    "PortRefusedError",
    "PortSpec",
    "Silence",
]


class Silence(StrEnum):
    """How sure it is that the adapter sends nothing, not even acknowledgements and error flags.

    PROVEN: the adapter or the kernel confirmed it. CLAIMED: it was asked for, and nothing confirms it. ACTIVE: the
    adapter takes part in the bus. UNKNOWN: nobody can tell. NO_BUS: there are no wires behind this interface.
    """

    PROVEN = "proven"
    CLAIMED = "claimed"
    ACTIVE = "active"
    UNKNOWN = "unknown"
    NO_BUS = "no bus"


class PortRefusedError(DataError):
    """The interface is there, and will not do what it is asked. `reason` is one word for programs."""

    def __init__(self, what: str, *, reason: str, where: str = "", todo: str = "") -> None:
        super().__init__(what, where=where, todo=todo)
        self.reason = reason


class PortLostError(DataError):
    """The interface went away while it was in use (unplugged, switched off, driver gone)."""


@dataclass(frozen=True, slots=True)
class PortSpec:
    """Which interface, and how to open it.

    Attributes:
        interface: `serial`, `socketcan`, or any other name python-can knows.
        channel: device, network interface or whatever names a channel there.
        bit_rate: bit/s; None where the interface has its own (SocketCAN) or needs none.
        active: take part in the bus: acknowledge, and be able to send. False: listen only.
        accept_unproven: open although nothing confirms that the adapter is silent; the user said so.
        name: what the channel is called in captures; at most 15 characters without blanks.
        options: more arguments for the interface.

    """

    interface: str
    channel: str
    bit_rate: int | None = None
    active: bool = False
    accept_unproven: bool = False
    name: str = "can0"
    options: dict[str, Any] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class PortEvent:
    """Something that is no frame: when (steady clock, ns since the epoch), what kind, in words.

    Kinds: opened, silence, refused, lost, reopened, stalled, answers_again, overrun, state, clock_step,
    held_up (frames came late, so gaps just before are not the bus's).
    """

    time_ns: int
    kind: str
    text: str


@dataclass(frozen=True, slots=True)
class Counters:
    """What got lost, and where. None: that place does not tell.

    Attributes:
        adapter: times the adapter reported that its own buffer overflowed (not frames: nobody counts those).
        kernel: frames (SocketCAN) or characters (serial line) the kernel dropped.
        ours: frames this program dropped because nobody fetched them.
        damaged: lines or messages that arrived and could not be read.
        tx_errors, rx_errors: the controller's error counters as last told.

    """

    adapter: int | None = None
    kernel: int | None = None
    ours: int = 0
    damaged: int = 0
    tx_errors: int | None = None
    rx_errors: int | None = None


@dataclass(slots=True)
class Intake:
    """What one read brought: packed records, and events."""

    records: bytearray = field(default_factory=bytearray)
    events: list[PortEvent] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class PortFacts:
    """What is known of an open port.

    Attributes:
        silence: see `Silence`. bit_rate: as confirmed; None where nobody tells. identity: what it says it is.
        clock: where time stamps come from ("host", "kernel", "adapter"). notes: sentences for the user.

    """

    silence: Silence
    bit_rate: int | None
    identity: str = ""
    clock: str = "host"
    notes: tuple[str, ...] = ()


class Port(Protocol):
    """An open interface. Only one thread may use it."""

    spec: PortSpec
    facts: PortFacts

    def read(self, timeout_s: float) -> Intake:
        """Whatever has arrived, waiting at most `timeout_s` for the first of it.

        Raises:
            PortLostError: the interface is gone.

        """

    def counters(self) -> Counters:
        """What got lost so far, as far as this port tells."""

    def send(self, identifier: int, flags: int, payload: bytes, length: int | None = None) -> None:
        """Put a frame on the bus; `length` is what a remote frame asks for.

        Raises:
            UsageError: the port listens only.
            PortRefusedError, PortLostError: it could not be handed over.

        """

    def close(self) -> None:
        """Leave the bus. Never raises."""
