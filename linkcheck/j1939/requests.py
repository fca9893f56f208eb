"""Requests for a parameter group, and whether anybody answered (SAE J1939-21: request and acknowledgement).

`Requests` is fed frames and tells how each question fared; it neither sends nor keeps time. An answer is the requested
group from the one asked, its announcement as a longer message, or an acknowledgement of any kind. A request to everyone
obliges nobody, so it never counts as unanswered.
Patience of 1.25 s: SAE J1939-21 (the requester's time-out), as in can-j1939 and AgIsoStack++. Control bytes of the
acknowledgement: SAE J1939-21, from memory.
"""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass

from linkcheck.errors import DataError
from linkcheck.j1939.identifier import GLOBAL
from linkcheck.j1939.messages import ACKNOWLEDGEMENT, REQUEST, TP_CM
from linkcheck.j1939.transport import announced_pgn

__all__ = ["ACKNOWLEDGEMENTS", "Acknowledgement", "Exchange", "Requests", "decode_acknowledgement", "requested_pgn"]

PATIENCE_NS = 1_250_000_000

ACKNOWLEDGEMENTS: dict[int, str] = {
    0: "acknowledged",
    1: "refused: not supported",
    2: "refused: access denied",
    3: "cannot answer now: busy",
}


@dataclass(frozen=True, slots=True)
class Acknowledgement:
    """An acknowledgement taken apart.

    Attributes:
        control: 0 yes, 1 no, 2 access denied, 3 busy. text: the same in words.
        requester: address it is meant for; 255 in older senders. pgn: the group it is about.

    """

    control: int
    text: str
    requester: int
    pgn: int


@dataclass(frozen=True, slots=True)
class Exchange:
    """How the requests of one device for one group to one address fared.

    Attributes:
        requester, destination, pgn: who asked whom for what.
        asked, answered, refused, unanswered: counts; what is still waited for is in none of the last three.
        slowest_ns: longest time to an answer, None without one. first_ns, last_ns: first and last question.

    """

    requester: int
    destination: int
    pgn: int
    asked: int
    answered: int
    refused: int
    unanswered: int
    slowest_ns: int | None
    first_ns: int
    last_ns: int


@dataclass(slots=True)
class _Tally:
    first_ns: int
    last_ns: int
    asked: int = 0
    answered: int = 0
    refused: int = 0
    unanswered: int = 0
    slowest_ns: int | None = None


@dataclass(slots=True)
class _Question:
    asked_ns: int
    requester: int
    destination: int
    pgn: int
    settled: bool = False


def requested_pgn(data: bytes) -> int | None:
    """Group that a request asks for, or None when it has fewer than three bytes."""
    return int.from_bytes(data[:3], "little") if len(data) >= 3 else None


def decode_acknowledgement(data: bytes) -> Acknowledgement:
    """Take an acknowledgement (PGN 59392) apart.

    Raises:
        DataError: not eight bytes.

    """
    if len(data) != 8:
        raise DataError(f"An acknowledgement has 8 bytes, this one has {len(data)}.")
    text = ACKNOWLEDGEMENTS.get(data[0], f"control byte {data[0]}, not in the standard")
    return Acknowledgement(data[0], text, data[4], int.from_bytes(data[5:8], "little"))


class Requests:
    """Follows every request on one channel.

    Args:
        max_exchanges: combinations of requester, destination and group kept apart.

    Attributes:
        malformed: requests and acknowledgements of a wrong length.
        not_listed: requests beyond `max_exchanges` combinations, which are followed no further.

    """

    def __init__(self, max_exchanges: int = 4096) -> None:
        self.malformed = 0
        self.not_listed = 0
        self._max_exchanges = max_exchanges
        self._tallies: dict[tuple[int, int, int], _Tally] = {}
        self._open: dict[int, list[_Question]] = {}  # by group
        self._order: deque[_Question] = deque()  # oldest first

    @property
    def awaited(self) -> frozenset[int]:
        """Groups that somebody waits for: of the other frames only these need to be fed."""
        return frozenset(self._open)

    def feed(self, time_ns: int, source: int, destination: int, pgn: int, data: bytes) -> None:
        """Take one frame: requests, acknowledgements, TP.CM, and any group in `awaited`; others do no harm."""
        self.advance(time_ns)
        if pgn == REQUEST:
            self._ask(time_ns, source, destination, requested_pgn(data))
        elif pgn == ACKNOWLEDGEMENT:
            self._acknowledge(time_ns, source, data)
        elif pgn == TP_CM:
            announced = announced_pgn(data)
            if announced is not None:
                self._settle(time_ns, source, destination, announced, refused=False)
        else:
            self._settle(time_ns, source, destination, pgn, refused=False)

    def advance(self, time_ns: int) -> None:
        """Let time pass: questions older than 1.25 s are unanswered; where time jumps back, open ones are dropped."""
        if self._order and time_ns < self._order[-1].asked_ns - PATIENCE_NS:
            self._open.clear()
            self._order.clear()
        while self._order and (self._order[0].settled or self._order[0].asked_ns + PATIENCE_NS < time_ns):
            question = self._order.popleft()
            if not question.settled:
                self._forget(question)
                if question.destination != GLOBAL:
                    self._tally(question).unanswered += 1

    def exchanges(self) -> tuple[Exchange, ...]:
        """How every question fared so far, in the order first asked."""
        return tuple(
            Exchange(
                *key,
                asked=tally.asked,
                answered=tally.answered,
                refused=tally.refused,
                unanswered=tally.unanswered,
                slowest_ns=tally.slowest_ns,
                first_ns=tally.first_ns,
                last_ns=tally.last_ns,
            )
            for key, tally in self._tallies.items()
        )

    def _ask(self, time_ns: int, requester: int, destination: int, pgn: int | None) -> None:
        if pgn is None:
            self.malformed += 1
            return
        key = (requester, destination, pgn)
        if key not in self._tallies:
            if len(self._tallies) >= self._max_exchanges:
                self.not_listed += 1
                return
            self._tallies[key] = _Tally(time_ns, time_ns)
        tally = self._tallies[key]
        tally.asked += 1
        tally.last_ns = time_ns
        question = _Question(time_ns, requester, destination, pgn)
        self._open.setdefault(pgn, []).append(question)
        self._order.append(question)

    def _acknowledge(self, time_ns: int, source: int, data: bytes) -> None:
        if len(data) != 8:
            self.malformed += 1
            return
        answer = decode_acknowledgement(data)
        self._settle(time_ns, source, answer.requester, answer.pgn, refused=answer.control != 0)

    def _settle(self, time_ns: int, source: int, destination: int, pgn: int, *, refused: bool) -> None:
        """`source` has spoken about `pgn`, to `destination`: whose questions does that answer?"""
        for question in tuple(self._open.get(pgn, ())):
            meant = question.destination in (source, GLOBAL) and destination in (question.requester, GLOBAL)
            if not meant or source == question.requester or time_ns < question.asked_ns:
                continue
            question.settled = True
            self._forget(question)
            tally = self._tally(question)
            if refused:
                tally.refused += 1
            else:
                tally.answered += 1
            tally.slowest_ns = max(time_ns - question.asked_ns, tally.slowest_ns or 0)

    def _tally(self, question: _Question) -> _Tally:
        return self._tallies[question.requester, question.destination, question.pgn]

    def _forget(self, question: _Question) -> None:
        waiting = self._open[question.pgn]
        waiting.remove(question)
        if not waiting:
            del self._open[question.pgn]
