"""The analysis of a J1708 link: stamped bytes in, one result out; live and recorded are the same object.

Memory does not grow with the length of a recording, but for one figure a second. Sentences are in `findings`.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Any

from linkcheck.j1708.fault_list import FAULT_LIST, fault_list
from linkcheck.j1708.findings import findings
from linkcheck.j1708.framing import BIT_NS, BIT_RATE, CHARACTER_BITS, Burst, Framer
from linkcheck.j1708.messages import Damage, Heard, Message, MessageReader
from linkcheck.j1708.meter import meter_volts
from linkcheck.j1708.mids import mid_name
from linkcheck.j1708.parameters import Parameter
from linkcheck.j1708.pids import SCALES, pid_name, pid_value
from linkcheck.j1708.result import FaultRow, LinkResult, Load, ParameterRow, SenderRow, ValueRow
from linkcheck.j1708.sections import Sections

__all__ = ["LinkAnalysis"]

_GAPS = 501  # gaps of a parameter kept for its median
_SECOND = 1_000_000_000


@dataclass(slots=True)
class _Sent:
    """One parameter of one sender."""

    count: int = 0
    last_ns: int | None = None
    gaps: list[int] = field(default_factory=list)

    def at(self, time_ns: int) -> None:
        self.count += 1
        if self.last_ns is not None and len(self.gaps) < _GAPS:
            self.gaps.append(time_ns - self.last_ns)
        self.last_ns = time_ns


@dataclass(slots=True)
class _Sender:
    first_ns: int
    last_ns: int
    messages: int = 0
    bytes: int = 0
    longest_silence_ns: int = 0
    parameters: dict[int, _Sent] = field(default_factory=dict)


@dataclass(slots=True)
class _Range:
    first: float
    last: float
    low: float
    high: float


class LinkAnalysis:
    """Feed it stamped bytes; ask it at any time.

    Args:
        expected: MIDs that should be on the link.

    """

    def __init__(self, expected: Iterable[int] = ()) -> None:
        self._expected = sorted(expected)
        self._framer, self._reader, self._sections = Framer(), MessageReader(), Sections()
        self._first_ns: int | None = None
        self._last_ns = 0
        self._bits: Counter[int] = Counter()  # by second since the first byte
        self._low_bits = 0
        self._senders: dict[int, _Sender] = {}
        self._faults: dict[tuple[int, int, bool, int], FaultRow] = {}
        self._values: dict[tuple[int, int], _Range] = {}
        self._damaged: Counter[str] = Counter()
        self._lone: Counter[int] = Counter()
        self.bytes = self.messages = self._mended = self._too_long = 0

    def feed(self, end_ns: int, data: bytes) -> list[Heard]:
        """Take bytes whose last one ended at `end_ns`; returns what they complete."""
        return self._bursts(self._framer.feed(end_ns, data))

    def quiet(self, now_ns: int) -> list[Heard]:
        """Nothing came until now: a message may be over."""
        return self._bursts(self._framer.quiet(now_ns))

    def finish(self) -> list[Heard]:
        """Nothing more will come."""
        heard = self._bursts(self._framer.finish())
        return heard + self._count(self._reader.finish())

    def _bursts(self, bursts: list[Burst]) -> list[Heard]:
        heard: list[Heard] = []
        for burst in bursts:
            self._occupy(burst)
            heard += self._count(self._reader.take(burst))
        return heard

    def _occupy(self, burst: Burst) -> None:
        if self._first_ns is None:
            self._first_ns = burst.start_ns
        self._last_ns = max(self._last_ns, burst.end_ns)
        self.bytes += len(burst.data)
        self._bits[max(0, burst.start_ns - self._first_ns) // _SECOND] += CHARACTER_BITS * len(burst.data)
        self._low_bits += sum(9 - byte.bit_count() for byte in burst.data)  # the start bit is low as well

    def _count(self, heard: list[Heard]) -> list[Heard]:
        for item in heard:
            if isinstance(item, Damage):
                self._damaged[item.kind] += 1
                if item.kind == "lone byte":
                    self._lone[item.data[0]] += 1
            else:
                self._message(item)
        return heard

    def _message(self, message: Message) -> None:
        self.messages += 1
        self._mended += message.mended
        self._too_long += message.too_long
        time_ns = message.start_ns
        sender = self._senders.setdefault(message.mid, _Sender(time_ns, time_ns))
        sender.longest_silence_ns = max(sender.longest_silence_ns, time_ns - sender.last_ns)
        sender.last_ns = time_ns
        sender.messages += 1
        sender.bytes += len(message.data)
        for parameter in message.parameters or ():
            sender.parameters.setdefault(parameter.pid, _Sent()).at(time_ns)
            self._content(message.mid, self._sections.take(message.mid, parameter) or parameter, time_ns)

    def _content(self, mid: int, parameter: Parameter, time_ns: int) -> None:
        if parameter.pid == FAULT_LIST:
            self._fault_list(mid, parameter.data, time_ns)
        value = pid_value(parameter.pid, parameter.data)
        if value is not None:
            seen = self._values.setdefault((mid, parameter.pid), _Range(value, value, value, value))
            seen.last, seen.low, seen.high = value, min(seen.low, value), max(seen.high, value)

    def _fault_list(self, mid: int, data: bytes, time_ns: int) -> None:
        for fault in fault_list(data)[0]:
            key = (mid, fault.number, fault.subsystem, fault.fmi)
            first_s = self._faults[key].first_s if key in self._faults else self._seconds(time_ns)
            self._faults[key] = FaultRow(
                mid,
                fault.number,
                fault.subsystem,
                fault.fmi,
                fault.active,
                fault.count,
                fault.about_a_link,
                fault.text,
                first_s,
                self._seconds(time_ns),
            )

    def result(self, source: dict[str, Any], *, partial: bool = False) -> LinkResult:
        """All that is known so far."""
        span_ns = self._last_ns - self._first_ns if self._first_ns is not None else 0
        driven = self._low_bits * BIT_NS / span_ns if span_ns else None
        result = LinkResult(
            partial=partial,
            source=source,
            expected=self._expected,
            bit_rate=BIT_RATE,
            first_s=0.0 if self.bytes else None,
            last_s=self._seconds(self._last_ns) if self.bytes else None,
            bytes=self.bytes,
            messages=self.messages,
            mended=self._mended,
            too_long=self._too_long,
            damaged=dict(self._damaged.most_common()),
            collisions=self._collisions(),
            bus_load=self._load(span_ns),
            driven_share=None if driven is None else min(1.0, driven),
            meter=None if driven is None else meter_volts(min(1.0, driven), len(self._senders)),
            senders=self._sender_rows(),
            faults=sorted(self._faults.values(), key=lambda row: (not row.link, not row.active, row.mid, row.number)),
            values=self._value_rows(),
            findings=[],
        )
        result.findings.extend(findings(result))
        return result

    def _seconds(self, time_ns: int) -> float:
        return round((time_ns - (self._first_ns or 0)) / _SECOND, 6)

    def _load(self, span_ns: int) -> Load:
        if not span_ns:
            return Load(None, None)
        mean = sum(self._bits.values()) * BIT_NS / span_ns
        peak = max(self._bits.values()) / BIT_RATE if span_ns >= _SECOND else mean
        return Load(round(min(1.0, mean), 4), round(min(1.0, peak), 4))

    def _collisions(self) -> int:
        """Lone bytes that are what two known senders make together: a driven bit (0) wins over an idle one."""
        mids = list(self._senders)
        pairs = {a & b for a in mids for b in mids if a != b and a & b not in (a, b)}
        return sum(count for byte, count in self._lone.items() if byte in pairs)

    def _sender_rows(self) -> list[SenderRow]:
        rows = []
        for mid, sender in sorted(self._senders.items()):
            parameters = [
                ParameterRow(pid, pid_name(pid), sent.count, _median_ms(sent.gaps))
                for pid, sent in sorted(sender.parameters.items())
            ]
            silence = max(sender.longest_silence_ns, self._last_ns - sender.last_ns)
            rows.append(
                SenderRow(
                    mid,
                    mid_name(mid),
                    sender.messages,
                    round(sender.bytes / self.bytes, 4),
                    self._seconds(sender.first_ns),
                    self._seconds(sender.last_ns),
                    round(silence / _SECOND, 3),
                    parameters,
                )
            )
        return rows

    def _value_rows(self) -> list[ValueRow]:
        return [
            ValueRow(
                mid,
                pid,
                pid_name(pid),
                SCALES[pid].unit,
                *(round(value, 3) for value in (seen.first, seen.last, seen.low, seen.high)),
            )
            for (mid, pid), seen in sorted(self._values.items())
        ]


def _median_ms(gaps: list[int]) -> float | None:
    return round(sorted(gaps)[len(gaps) // 2] / 1e6, 1) if gaps else None
