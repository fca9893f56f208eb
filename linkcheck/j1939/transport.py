"""Messages of more than eight bytes, put together again by someone who only listens (SAE J1939-21, 5.10).

`Reassembly` eats TP.CM and TP.DT frames and gives the events of `transport_events`; it neither sends nor keeps time:
time comes in with the data, so replay and live behave alike. Any number of transfers may be interleaved; one (source,
destination) pair has at most one open at a time. Bytes that make no sense are counted, never raised.

Control bytes and timers: SAE J1939-21 as published in Linux kernel net/can/j1939/transport.c and in can-j1939
(j1939_21.py).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Literal, TypedDict

from linkcheck.j1939.identifier import GLOBAL
from linkcheck.j1939.transport_events import (
    ABORT_REASONS,
    Aborted,
    Completed,
    Event,
    Incomplete,
    Kind,
    Superseded,
    TimedOut,
)

__all__ = ["Reassembly", "announced_pgn"]

RTS, CTS, END_OF_MESSAGE, BAM, ABORT = 16, 17, 19, 32, 255

_MS = 1_000_000
T1_NS = 750 * _MS  # from one packet to the next
T2_NS = 1250 * _MS  # from a clear to send to the first packet
T3_NS = 1250 * _MS  # from a request to send, or the last packet of a block, to the answer
T4_NS = 1050 * _MS  # from a "hold" (clear to send no packets) to the next clear to send

_PACKET = 7  # payload bytes a packet carries
_LARGEST = 255 * _PACKET


@dataclass(slots=True)
class _Session:
    """A transfer under way."""

    source: int
    destination: int
    pgn: int
    kind: Kind
    start_ns: int
    size: int
    packets: int
    deadline_ns: int
    silent: int  # who has to send the next frame
    last_ns: int  # last frame of the sender
    block_end: int = 0  # last packet number cleared to send; 0 while no clear to send was seen
    gap_min_ns: int | None = None
    gap_max_ns: int | None = None
    received: dict[int, bytes] = field(default_factory=dict)

    @property
    def missing(self) -> tuple[int, ...]:
        return tuple(number for number in range(1, self.packets + 1) if number not in self.received)

    @property
    def payload(self) -> bytes:
        return b"".join(self.received[number] for number in range(1, self.packets + 1))

    def store(self, time_ns: int, data: bytes) -> bool:
        """Keep a data packet; False when it cannot belong here."""
        number = data[0] if data else 0
        needed = min(_PACKET, self.size - _PACKET * (number - 1))
        if not 1 <= number <= self.packets or len(data) <= needed:
            return False
        self.received[number] = data[1 : 1 + needed]
        gap = time_ns - self.last_ns
        if gap >= 0:
            self.gap_min_ns = gap if self.gap_min_ns is None else min(gap, self.gap_min_ns)
            self.gap_max_ns = gap if self.gap_max_ns is None else max(gap, self.gap_max_ns)
        self.last_ns = time_ns
        block_over = self.kind == "rts" and number >= self.block_end
        self.expect(time_ns + (T3_NS if block_over else T1_NS), self.destination if block_over else self.source)
        return True

    def expect(self, deadline_ns: int, silent: int) -> None:
        """Who must go on, and until when."""
        self.deadline_ns, self.silent = deadline_ns, silent


class _Common(TypedDict):
    """What every event says."""

    time_ns: int
    start_ns: int
    source: int
    destination: int
    pgn: int
    kind: Kind


def _common(session: _Session, time_ns: int) -> _Common:
    return _Common(
        time_ns=time_ns,
        start_ns=session.start_ns,
        source=session.source,
        destination=session.destination,
        pgn=session.pgn,
        kind=session.kind,
    )


def _incomplete(session: _Session, time_ns: int, text: str) -> Incomplete:
    return Incomplete(**_common(session, time_ns), missing=session.missing, text=text)


def _expired(session: _Session) -> TimedOut | Incomplete:
    """What it means that nothing came until the deadline."""
    time_ns, missing, last = session.deadline_ns, session.missing, max(session.received, default=0)
    if session.kind == "bam" and last == session.packets:
        return _incomplete(session, time_ns, f"{len(missing)} of {session.packets} packets were lost on the way")
    if session.silent == session.source:
        text = f"the sender went silent after packet {last} of {session.packets}"
    elif last:
        text = f"the receiver went silent after packet {last} of {session.packets}"
    else:
        text = "the receiver never cleared the sender to send"
    return TimedOut(**_common(session, time_ns), silent=session.silent, missing=missing, text=text)


def announced_pgn(data: bytes) -> int | None:
    """Group that a TP.CM frame announces (request to send or broadcast announcement), or None for any other."""
    if len(data) == 8 and data[0] in (RTS, BAM):
        return int.from_bytes(data[5:8], "little")
    return None


class Reassembly:
    """Follows every transfer on one channel.

    Args:
        max_sessions: transfers kept open at once; the one opened longest ago is given up beyond it.

    Attributes:
        orphans: data packets that belong to no transfer whose start was seen.
        malformed: frames that cannot be: too short, unknown control byte, sizes that do not fit.

    """

    def __init__(self, max_sessions: int = 1024) -> None:
        self.orphans = 0
        self.malformed = 0
        self._max_sessions = max_sessions
        self._sessions: dict[tuple[int, int], _Session] = {}  # in the order opened or cleared to send
        self._earliest_ns: int | None = None  # no deadline is earlier

    def feed(
        self, time_ns: int, source: int, destination: int, kind: Literal["cm", "dt"], data: bytes
    ) -> tuple[Event, ...]:
        """Take one frame: "cm" for PGN 60416, "dt" for PGN 60160. Returns what it brought to an end, in order."""
        expired = self.advance(time_ns)
        if kind == "dt":
            completed = self._data(time_ns, source, destination, data)
            return expired if completed is None else (*expired, completed)
        if len(data) != 8:
            self.malformed += 1
            return expired
        return (*expired, *self._management(time_ns, source, destination, data))

    def advance(self, time_ns: int) -> tuple[Event, ...]:
        """Let time pass without a frame: what has timed out before `time_ns`, earliest first."""
        if self._earliest_ns is None or time_ns <= self._earliest_ns:
            return ()
        late = [key for key, session in self._sessions.items() if session.deadline_ns < time_ns]
        events = [_expired(self._sessions.pop(key)) for key in late]
        self._earliest_ns = min((session.deadline_ns for session in self._sessions.values()), default=None)
        return tuple(sorted(events, key=lambda event: event.time_ns))

    def finish(self) -> tuple[Event, ...]:
        """The recording is over: every transfer still open is given back as incomplete."""
        left = sorted(self._sessions.values(), key=lambda session: session.start_ns)
        self._sessions.clear()
        self._earliest_ns = None
        return tuple(_incomplete(session, session.last_ns, "the recording ended") for session in left)

    def _data(self, time_ns: int, source: int, destination: int, data: bytes) -> Completed | None:
        session = self._sessions.get((source, destination))
        if session is None:
            self.orphans += 1
            return None
        if not session.store(time_ns, data):
            self.malformed += 1
        if len(session.received) < session.packets:
            return None
        del self._sessions[source, destination]
        return Completed(
            **_common(session, time_ns),
            payload=session.payload,
            gap_min_ns=session.gap_min_ns,
            gap_max_ns=session.gap_max_ns,
        )

    def _management(self, time_ns: int, source: int, destination: int, data: bytes) -> Iterator[Event]:
        control, pgn = data[0], int.from_bytes(data[5:8], "little")
        if control in (RTS, BAM):
            yield from self._open(time_ns, source, destination, data, pgn)
        elif control == CTS:
            self._clear_to_send(time_ns, source, destination, data, pgn)
        elif control == END_OF_MESSAGE:
            yield from self._acknowledged(time_ns, source, destination, pgn)
        elif control == ABORT:
            yield self._abort(time_ns, source, destination, data[1], pgn)
        else:
            self.malformed += 1

    def _open(self, time_ns: int, source: int, destination: int, data: bytes, pgn: int) -> Iterator[Event]:
        size, packets = int.from_bytes(data[1:3], "little"), data[3]
        broadcast = data[0] == BAM
        if not 1 <= size <= _LARGEST or packets != -(-size // _PACKET) or broadcast != (destination == GLOBAL):
            self.malformed += 1
            return
        old = self._sessions.pop((source, destination), None)
        if old is not None:
            yield Superseded(**_common(old, time_ns), missing=old.missing)
        if len(self._sessions) >= self._max_sessions:
            oldest = self._sessions.pop(next(iter(self._sessions)))
            yield _incomplete(oldest, time_ns, "given up: too many transfers at once")
        session = _Session(
            source=source,
            destination=destination,
            pgn=pgn,
            kind="bam" if broadcast else "rts",
            start_ns=time_ns,
            size=size,
            packets=packets,
            deadline_ns=time_ns + (T1_NS if broadcast else T3_NS),
            silent=source if broadcast else destination,
            last_ns=time_ns,
        )
        self._keep(session)

    def _clear_to_send(self, time_ns: int, source: int, destination: int, data: bytes, pgn: int) -> None:
        session = self._matching(destination, source, pgn)
        if session is None:
            return
        count, first = data[1], data[2]
        if count:
            session.block_end = first + count - 1
            session.expect(time_ns + T2_NS, session.source)
        else:
            session.expect(time_ns + T4_NS, session.destination)
        self._keep(self._sessions.pop((session.source, session.destination)))

    def _acknowledged(self, time_ns: int, source: int, destination: int, pgn: int) -> Iterator[Event]:
        """End of message: the receiver has all; a transfer still open here lost packets on the way to the recorder."""
        session = self._matching(destination, source, pgn)
        if session is not None:
            del self._sessions[session.source, session.destination]
            yield _incomplete(session, time_ns, "the receiver has it all, the recording has not")

    def _abort(self, time_ns: int, source: int, destination: int, reason: int, pgn: int) -> Aborted:
        """Either side may stop; the receiver's word is looked for first."""
        session = self._matching(destination, source, pgn) or self._matching(source, destination, pgn)
        if session is not None:
            del self._sessions[session.source, session.destination]
            common = _common(session, time_ns)
        else:  # its start was not seen, or it was refused after all packets had come
            common = _Common(
                time_ns=time_ns, start_ns=time_ns, source=destination, destination=source, pgn=pgn, kind="rts"
            )
        text = ABORT_REASONS.get(reason, f"reason {reason}, not in the standard")
        return Aborted(**common, aborted_by=source, reason=reason, text=text)

    def _matching(self, source: int, destination: int, pgn: int) -> _Session | None:
        session = self._sessions.get((source, destination))
        return session if session is not None and session.pgn == pgn and session.kind == "rts" else None

    def _keep(self, session: _Session) -> None:
        """Put a transfer (back) at the end of the order."""
        self._sessions[session.source, session.destination] = session
        if self._earliest_ns is None or session.deadline_ns < self._earliest_ns:
            self._earliest_ns = session.deadline_ns
