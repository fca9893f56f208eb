"""What can become of a transfer of more than eight bytes: the events that `transport.Reassembly` gives.

Values only. Abort reasons as published in Linux kernel net/can/j1939/transport.c. Gap between broadcast packets: 50 ms
at least by SAE J1939-21, 10 ms by ISO 11783-3.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

__all__ = ["ABORT_REASONS", "Aborted", "Completed", "Event", "Incomplete", "Kind", "Superseded", "TimedOut"]

Kind = Literal["bam", "rts"]  # announced to everyone, or agreed between two

_MS = 1_000_000
GAP_NOTE_NS = 50 * _MS
GAP_FAULT_NS = 10 * _MS

ABORT_REASONS: dict[int, str] = {
    1: "already in a session with this sender",
    2: "no resources free",
    3: "timed out",
    4: "clear to send came while data was being sent",
    5: "too many packets had to be sent again",
    6: "data packet not expected",
    7: "wrong sequence number",
    8: "same sequence number twice",
    9: "message larger than 1785 bytes",
    250: "another error",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Event:
    """How one transfer ended.

    Attributes:
        time_ns: when it ended. start_ns: when it was announced (or first seen).
        source, destination: who sends to whom; destination 255 is everyone.
        pgn: the group carried. kind: "bam" or "rts".

    """

    time_ns: int
    start_ns: int
    source: int
    destination: int
    pgn: int
    kind: Kind


@dataclass(frozen=True, slots=True, kw_only=True)
class Completed(Event):
    """Every packet came.

    Attributes:
        payload: 1-1785 bytes. gap_min_ns, gap_max_ns: shortest and longest time from one frame of the sender to its
            next, the announcement included; None where time went back.

    """

    payload: bytes
    gap_min_ns: int | None
    gap_max_ns: int | None

    @property
    def pace(self) -> Literal["ok", "note", "fault"]:
        """Whether a broadcast's packets followed too fast: under 50 ms a note, under 10 ms a fault."""
        if self.kind == "rts" or self.gap_min_ns is None or self.gap_min_ns >= GAP_NOTE_NS:
            return "ok"
        return "note" if self.gap_min_ns >= GAP_FAULT_NS else "fault"


@dataclass(frozen=True, slots=True, kw_only=True)
class Aborted(Event):
    """One side said stop.

    Attributes:
        aborted_by: address that said so. reason: the number it gave. text: the reason in words.

    """

    aborted_by: int
    reason: int
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class TimedOut(Event):
    """Nothing came in time. `time_ns` is when patience ended.

    Attributes:
        silent: address that should have gone on. missing: packet numbers that never came. text: what was waited for.

    """

    silent: int
    missing: tuple[int, ...]
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Superseded(Event):
    """The sender announced something new before it had finished. `missing`: packet numbers that never came."""

    missing: tuple[int, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Incomplete(Event):
    """The transfer may have been fine, but what was recorded of it is not whole.

    Attributes:
        missing: packet numbers that never came. text: why no more is known.

    """

    missing: tuple[int, ...]
    text: str
