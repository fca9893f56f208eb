"""One live capture, from its ports to its `TrafficResult`: the live counterpart of `capture_file`.

Frames go to the very analysis of replay, and beside it to the wiggle watch, the triggers and the recorder. The faces
call `step` in a loop and draw what it returns.
"""

from __future__ import annotations

import dataclasses
from collections import deque
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from linkcheck.frames import ERROR, EXTENDED
from linkcheck.frames.kernel import kernel_name
from linkcheck.live.listener import Delivery, Listener
from linkcheck.live.port import Counters, PortSpec
from linkcheck.survey.recorder import Recorder
from linkcheck.traffic import Analysis, Marked, Options, TrafficResult
from linkcheck.traffic.triggers import Triggers
from linkcheck.traffic.wiggle import WiggleEvent, WiggleWatch

__all__ = ["Gauge", "LiveCapture", "LiveEvent", "Step"]

_WINDOW_NS = 1_000_000_000
_BUS_OFF, _CONTROLLER, _OVERFLOW = 0x40, 0x4, 0x01  # Linux include/uapi/linux/can/error.h
_MOST_EVENTS = 10_000
_LINK_KINDS = ("lost", "reopened", "stalled", "answers_again", "bus_off", "overrun", "clock_step", "refused")


@dataclass(frozen=True, slots=True)
class LiveEvent:
    """Something that is no frame: of a port, of the bus as a whole, of the record."""

    time_ns: int
    channel: str
    kind: str
    text: str


@dataclass(frozen=True, slots=True)
class Gauge:
    """How a channel stands now: the last second, and all since the start.

    Attributes:
        load: share of the bus in the last second, None where the bit rate is not known.
        silent_s: since the last frame; None before the first. away: the port is lost just now.

    """

    channel: str
    frames: int
    frames_per_s: float
    load: float | None
    errors: int
    addresses: int
    silent_s: float | None
    away: bool


@dataclass(slots=True)
class Step:
    """What one step brought."""

    frames: int = 0
    events: list[LiveEvent] = field(default_factory=list)
    alarms: list[WiggleEvent] = field(default_factory=list)


@dataclass(slots=True)
class _Tally:
    """One channel, counted for its gauge."""

    frames: int = 0
    errors: int = 0
    overflows: int = 0
    last_ns: int | None = None
    addresses: set[int] = field(default_factory=set)
    recent: deque[tuple[int, int, int]] = field(default_factory=deque)  # time, frames, wire bits

    def forget(self, before_ns: int) -> None:
        """Drop what is older than the gauge's window."""
        while self.recent and self.recent[0][0] < before_ns:
            self.recent.popleft()


class LiveCapture:
    """Listens until closed.

    Args:
        specs: the ports. options: what the user knows of the bus. watch: the wiggle watch, if one is wanted.
        recorder, triggers: what to write and when. reconnect: see `Listener`.

    Attributes:
        events: the last ten thousand. started_ns, now_ns: on the capture's clock.

    Raises:
        PortRefusedError: a port could not be opened.

    """

    def __init__(
        self,
        specs: Sequence[PortSpec],
        options: Options | None = None,
        *,
        watch: WiggleWatch | None = None,
        recorder: Recorder | None = None,
        triggers: Triggers | None = None,
        reconnect: bool = True,
    ) -> None:
        self.listener = Listener(specs, reconnect=reconnect)
        self.watch, self.recorder, self._triggers = watch, recorder, triggers
        rates = {facts.bit_rate for facts in self.listener.facts.values()}
        options = options or Options()
        self._given_rate = options.bit_rate
        if options.bit_rate is None and len(rates) == 1:
            options = dataclasses.replace(options, bit_rate=rates.pop())
        self._analysis = Analysis(options)
        self._tallies = {name: _Tally() for name in self.listener.channels}
        self.events: deque[LiveEvent] = deque(maxlen=_MOST_EVENTS)
        self._specs = tuple(specs)
        self._notes: list[str] = []
        self._drops_told = dict.fromkeys(self.listener.channels, 0)
        self._lost_at: dict[str, int] = {}
        self._shift_ns = 0
        self._closed = False
        self.started_ns = self.now_ns = self.listener.clock.now_ns()

    def step(self, timeout_s: float = 0.05) -> Step:
        """Take what has arrived, waiting at most `timeout_s` for the first of it."""
        delivery = self.listener.poll(timeout_s)
        step = Step(frames=len(delivery.batch))
        self.now_ns = self.listener.clock.now_ns()
        # First the bell, then everything that can wait.
        parts = list(self._analysis.mark(delivery.batch))
        for part in parts:
            if self.watch is not None:
                step.alarms += self.watch.eat(part)
        if parts:
            # The analysis lays its segments end to end; the time that passes must follow.
            self._shift_ns = int(parts[-1].frames.time_ns[-1]) - int(delivery.batch.time_ns[-1])
        now_ns = {name: now + self._shift_ns for name, now in delivery.now_ns.items()}
        for name, now in now_ns.items():
            if self.watch is not None:
                step.alarms += self.watch.advance(name, now)
        for name, event in delivery.events:
            self._note(step, LiveEvent(event.time_ns, name, event.kind, event.text))
        if self.recorder is not None:
            self._record(delivery)
        for part in parts:
            self._count(step, part)
        self._trigger(step, parts, now_ns)
        return step

    def _count(self, step: Step, part: Marked) -> None:
        self._analysis.count(part)
        frames = part.frames
        for number in np.unique(frames.channel).tolist():
            name = frames.channels[number]
            tally = self._tallies[name]
            rows = np.flatnonzero(frames.channel == number)
            is_error = (frames.flags[rows] & ERROR) != 0
            bits = int(part.marks.wire_bits[rows].sum(dtype=np.int64))
            tally.frames += len(rows)
            tally.errors += int(is_error.sum())
            tally.last_ns = int(frames.time_ns[rows[-1]])
            tally.recent.append((tally.last_ns, len(rows), bits))
            tally.forget(tally.last_ns - _WINDOW_NS)
            j1939 = rows[(frames.flags[rows] & (EXTENDED | ERROR)) == EXTENDED]
            tally.addresses.update(np.unique(frames.identifier[j1939] & 0xFF).tolist())
            for row in rows[is_error].tolist():
                classes = int(frames.identifier[row])
                if classes & _BUS_OFF:
                    text = "the adapter's controller went bus-off: it hears nothing until it restarts or is reconnected"
                    self._note(step, LiveEvent(int(frames.time_ns[row]), name, "bus_off", text))
                tally.overflows += bool(classes & _CONTROLLER and frames.data[row, 1] & _OVERFLOW)

    def _trigger(self, step: Step, parts: list[Marked], now_ns: dict[str, int]) -> None:
        if self._triggers is None:
            return
        found = [trigger for part in parts for trigger in self._triggers.eat(part)]
        found += [t for name, now in now_ns.items() for t in self._triggers.advance(name, now)]
        for trigger in found:
            if self.recorder is not None:
                self.recorder.trigger(trigger.time_ns, trigger.text)
            self._note(step, LiveEvent(trigger.time_ns, trigger.channel, "trigger", trigger.text), record=False)

    def _record(self, delivery: Delivery) -> None:
        recorder = self.recorder
        if recorder is None:
            return
        problem = recorder.problem
        recorder.write(delivery.batch, self.now_ns)
        if recorder.problem != problem:
            text = recorder.problem or "recording again"
            self.events.append(LiveEvent(self.now_ns, "", "disk", text))
        for name, counters in self.listener.counters().items():
            total = self._frames_lost(name, counters)
            if total > self._drops_told[name]:
                recorder.dropped(name, total - self._drops_told[name], total)
                self._drops_told[name] = total

    def _note(self, step: Step, event: LiveEvent, *, record: bool = True) -> None:
        step.events.append(event)
        self.events.append(event)
        if self.recorder is not None and record:
            self.recorder.event(event.time_ns, event.channel, event.kind, event.text)
        if event.kind == "lost":
            self._lost_at[event.channel] = event.time_ns
        if event.kind == "reopened":
            away = (event.time_ns - self._lost_at.pop(event.channel, event.time_ns)) / 1e9
            self._notes.append(f"{event.channel}: the port was away for {away:.1f} s; silences across that are its own")
        if self.watch is not None and event.kind == "held_up":
            self.watch.held_up(event.channel, event.time_ns)
        if self.watch is not None and event.kind in _LINK_KINDS:
            if event.kind in ("lost", "reopened"):
                self.watch.interrupted(event.channel)
            self.watch.mark(event.time_ns, event.text, "link", event.channel)

    def mark(self, text: str) -> LiveEvent:
        """Set a mark by hand, now; a recorder that waits for triggers keeps the seconds around it."""
        now = self.listener.clock.now_ns()
        if self.watch is not None:
            self.watch.mark(now, text)
        event = LiveEvent(now, "", "mark", text)
        self.events.append(event)
        if self.recorder is not None:
            self.recorder.event(now, "", "mark", text)
            if self.recorder.plan.triggered:
                self.recorder.trigger(now, text)
        return event

    def gauges(self) -> list[Gauge]:
        """How every channel stands now."""
        now, gauges = self.listener.clock.now_ns() + self._shift_ns, []
        for name, tally in self._tallies.items():
            tally.forget(now - _WINDOW_NS)
            rate = self.listener.facts[name].bit_rate or self._given_rate
            bits = sum(bits for _, _, bits in tally.recent)
            gauges.append(
                Gauge(
                    name,
                    tally.frames,
                    float(sum(count for _, count, _ in tally.recent)),
                    bits / rate if rate else None,
                    tally.errors,
                    len(tally.addresses),
                    None if tally.last_ns is None else max(0.0, (now - tally.last_ns) / 1e9),
                    name in self.listener.lost,
                )
            )
        return gauges

    def counters(self) -> dict[str, Counters]:
        """What got lost, by channel: in the adapter, in the kernel, here."""
        counters = self.listener.counters()
        for name, tally in self._tallies.items():
            if counters[name].adapter is None and tally.overflows:
                counters[name] = dataclasses.replace(counters[name], adapter=tally.overflows)
        return counters

    def result(self, *, partial: bool = False) -> TrafficResult:
        """The answer so far; the listening may go on."""
        return self._analysis.result(self._account(), partial=partial)

    def _frames_lost(self, name: str, count: Counters) -> int:
        """Frames known to be missing: dropped, or unreadable. (For serial lines the kernel counts characters.)"""
        by_kernel = (count.kernel or 0) if self.listener.facts[name].clock == "kernel" else 0
        return by_kernel + count.ours + count.damaged

    def _account(self) -> dict[str, Any]:
        counters = self.counters()
        frames = self._analysis.frames
        overruns = [
            f"{name}: the adapter's own buffer overflowed {count.adapter} times; frames are missing"
            for name, count in counters.items()
            if count.adapter
        ]
        return {
            "path": ", ".join(f"{spec.interface}:{spec.channel}" for spec in self._specs),
            "format": "live",
            "kernel": kernel_name(),
            "lines": frames,
            "frames": frames,
            "skipped": 0,
            "comments": 0,
            "dropped": sum(self._frames_lost(name, count) for name, count in counters.items()),
            "skipped_lines": [],
            "notes": [*self._notes, *overruns],
            "ports": {name: dataclasses.asdict(facts) for name, facts in self.listener.facts.items()},
            "lost": {name: dataclasses.asdict(count) for name, count in counters.items()},
            "events": [dataclasses.asdict(event) for event in self.events],
        }

    def close(self) -> None:
        """Leave the buses and end the record. Closing again does nothing."""
        if self._closed:
            return
        self._closed = True
        self.listener.close()
        self.step(0.0)  # what the ports still had
        if self.recorder is not None:
            self.recorder.close()
