"""The rare frames that need a look each: transport, trouble codes, address claims, requests and acknowledgements.

Which keys are rare is decided once a key; of a batch only their rows reach Python. Reports of trouble codes repeat the
same bytes every second, so runs of equal payloads are looked at once and only their last time is kept.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from linkcheck.frames import ERROR, EXTENDED, REMOTE, FrameBatch, Marks
from linkcheck.j1939.claims import Claim as HeardClaim
from linkcheck.j1939.claims import Claims, Contest
from linkcheck.j1939.identifier import Identifier, pgns, split
from linkcheck.j1939.messages import ACKNOWLEDGEMENT, ADDRESS_CLAIM, DM1, DM2, REQUEST, TP_CM, TP_DT
from linkcheck.j1939.requests import Exchange, Requests, requested_pgn
from linkcheck.j1939.transport import Reassembly
from linkcheck.j1939.transport_events import Aborted, Completed, Event, TimedOut
from linkcheck.j1939.trouble_codes import Lamps, Report, decode_report
from linkcheck.traffic.options import KeyTable

__all__ = ["CodeSeen", "Messages"]

_REPORTS = (DM1, DM2)
_ASKING = (REQUEST, ACKNOWLEDGEMENT)
_RARE = (TP_CM, TP_DT, ADDRESS_CLAIM, *_ASKING, *_REPORTS)
_ID_BITS = 0x1FFFFFFF
_MAX_CODES = 5000  # different codes kept; a bus of garbage could bring more


@dataclass(slots=True)
class CodeSeen:
    """A code of one address over the capture: count and lamps as last reported."""

    first_ns: int
    last_ns: int
    count: int | None
    lamps: Lamps


@dataclass(slots=True)
class _LastReport:
    payload: bytes
    report: Report


@dataclass(slots=True)
class Messages:
    """Follows the rare frames of one channel."""

    transport: Reassembly = field(default_factory=Reassembly)
    asking: Requests = field(default_factory=Requests)
    claims: Claims = field(default_factory=Claims)
    codes: dict[tuple[int, int, int, bool], CodeSeen] = field(default_factory=dict)  # source, SPN, FMI, active
    completed: int = 0
    ended: Counter[str] = field(default_factory=Counter)  # by what became of the transfer
    abort_reasons: Counter[str] = field(default_factory=Counter)
    shortest_bam_gap_ns: int | None = None
    _last: dict[tuple[int, int], _LastReport] = field(default_factory=dict)
    _key_pgn: npt.NDArray[np.uint32] = field(default_factory=lambda: np.zeros(0, np.uint32))
    _who: list[Identifier] = field(default_factory=list)  # by key
    _rare: npt.NDArray[np.bool_] = field(default_factory=lambda: np.zeros(0, np.bool_))

    def eat(self, batch: FrameBatch, marks: Marks, keys: KeyTable) -> None:
        """Look at the rare frames of a batch of one channel, in order."""
        self._learn(keys)
        wanted = self._rare.take(marks.key)
        asked = self._awaited(batch, marks, wanted)
        if asked:
            wanted |= np.isin(self._key_pgn, list(asked)).take(marks.key)
        rows = np.flatnonzero(wanted)
        if not len(rows):
            return
        rows = self._without_repeats(batch, marks, rows, asked)
        block = batch.data[rows].tobytes()
        columns = (rows.tolist(), marks.key[rows].tolist(), batch.time_ns[rows].tolist(), batch.length[rows].tolist())
        for i, (row, key, time_ns, length) in enumerate(zip(*columns, strict=True)):
            payload = block[8 * i : 8 * i + length] if length <= 8 else batch.payload(row)
            self._look(time_ns, self._who[key], payload)

    def finish(self) -> None:
        """The capture is over: open transfers and questions are settled."""
        for event in self.transport.finish():
            self._ended(event)

    def _learn(self, keys: KeyTable) -> None:
        known, n = len(self._rare), len(keys.identifier)
        if n > known:
            fresh = pgns(keys.identifier[known:])
            flags = keys.flags[known:]
            normal = flags & (EXTENDED | ERROR | REMOTE) == EXTENDED
            self._key_pgn = np.concatenate([self._key_pgn, np.where(normal, fresh, np.uint32(0xFFFFFFFF))])
            self._who += [split(int(identifier) & _ID_BITS) for identifier in keys.identifier[known:]]
            self._rare = np.concatenate([self._rare, normal & np.isin(fresh, _RARE)])

    def _awaited(self, batch: FrameBatch, marks: Marks, rare: npt.NDArray[np.bool_]) -> set[int]:
        """Groups somebody asks for in this batch, or still waits for."""
        rows = np.flatnonzero(rare)
        questions = rows[self._key_pgn[marks.key[rows]] == REQUEST]
        asked = {pgn for row in questions if (pgn := requested_pgn(batch.payload(int(row)))) is not None}
        return asked | self.asking.awaited

    def _without_repeats(
        self, batch: FrameBatch, marks: Marks, rows: npt.NDArray[np.intp], asked: set[int]
    ) -> npt.NDArray[np.intp]:
        """Leave out reports that stand between two equal ones of the same key, unless they answer a request."""
        key = marks.key[rows]
        report = np.isin(self._key_pgn, [pgn for pgn in _REPORTS if pgn not in asked])[key]
        places = np.flatnonzero(report)
        places = places[np.argsort(key[places], kind="stable")]
        key = key[places]
        value = batch.data[rows[places]].view(np.uint64).ravel()
        same = (key[1:] == key[:-1]) & (value[1:] == value[:-1])
        keep = np.ones(len(rows), np.bool_)
        keep[places[1:-1][same[:-1] & same[1:]]] = False
        return rows[keep]

    def _look(self, time_ns: int, who: Identifier, data: bytes) -> None:
        if who.pgn == TP_DT:
            for event in self.transport.feed(time_ns, who.source, who.destination, "dt", data):
                self._ended(event)
            return
        if who.pgn == TP_CM:
            for event in self.transport.feed(time_ns, who.source, who.destination, "cm", data):
                self._ended(event)
        elif who.pgn == ADDRESS_CLAIM:
            self.claims.feed(time_ns, who.source, data)
        elif who.pgn in _REPORTS:
            self._report(time_ns, who.source, who.pgn, data)
        awaited = self.asking.awaited
        if who.pgn in _ASKING or (awaited and (who.pgn == TP_CM or who.pgn in awaited)):
            self.asking.feed(time_ns, who.source, who.destination, who.pgn, data)

    def _ended(self, event: Event) -> None:
        if isinstance(event, Completed):
            self.completed += 1
            if event.kind == "bam" and event.gap_min_ns is not None:
                shortest = self.shortest_bam_gap_ns
                self.shortest_bam_gap_ns = event.gap_min_ns if shortest is None else min(shortest, event.gap_min_ns)
            if event.pgn in _REPORTS:
                self._report(event.time_ns, event.source, event.pgn, event.payload)
            return
        if isinstance(event, Aborted):
            self.ended["aborted"] += 1
            self.abort_reasons[event.text] += 1
        else:
            self.ended["timed out" if isinstance(event, TimedOut) else "incomplete"] += 1

    def _report(self, time_ns: int, source: int, pgn: int, payload: bytes) -> None:
        last = self._last.get((source, pgn))
        if last is None or last.payload != payload:
            last = self._last[source, pgn] = _LastReport(payload, decode_report(payload))
        for code in last.report.codes:
            key = (source, code.spn, code.fmi, pgn == DM1)
            seen = self.codes.get(key)
            if seen is None:
                if len(self.codes) < _MAX_CODES:
                    self.codes[key] = CodeSeen(time_ns, time_ns, code.count, last.report.lamps)
            else:
                seen.last_ns, seen.count, seen.lamps = time_ns, code.count, last.report.lamps

    def exchanges(self) -> tuple[Exchange, ...]:
        """How requests fared."""
        return self.asking.exchanges()

    def claims_of(self, address: int) -> list[HeardClaim]:
        """NAMEs claimed for an address."""
        return [claim for claim in self.claims.claims() if claim.address == address]

    def contests(self) -> tuple[Contest, ...]:
        """Addresses with more than one NAME."""
        return self.claims.contests()
