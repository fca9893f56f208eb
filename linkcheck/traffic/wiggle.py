"""Wiggle watch: who is late, which frames break, when the battery dips, told the moment it shows.

While the harness is held still every address's usual gaps are learned; after that an address is late when it stays
away for a few of them. Late addresses show in two ways: time passes without a frame (`advance`), or a frame ends a gap
that was too long (`eat`), so a recording gives the same events as the live bus. No clock and no bell here.

The limits are common practice, no source: three usual gaps and at least 60 ms; half a volt (one volt at 24 V).
"""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass, field

import numpy as np

from linkcheck.frames import ERROR, EXTENDED, FrameBatch
from linkcheck.frames.bus_errors import decode_error
from linkcheck.j1939.addresses import TOOLS, address_name
from linkcheck.j1939.identifier import pgns
from linkcheck.j1939.messages import ADDRESS_CLAIM
from linkcheck.j1939.signals import signal_table
from linkcheck.traffic.engine import Marked

__all__ = ["WiggleEvent", "WiggleWatch"]

LEARN_NS = 5_000_000_000
SHORTEST_NS = 60_000_000  # below it a busy computer or a USB adapter's own latency looks like a fault
_GAPS = 3.0  # usual gaps an address may stay away
_FEWEST = 5  # gaps that make a habit
_MANY = 20  # with so many, one or two dropouts while learning do not count
_USUAL = 0.95
_TOGETHER_NS = 1_000_000_000  # error frames closer than this are one burst
_RESTART_NS = 3_000_000_000  # a claim so soon after coming back tells of a restart: SAE J1939-81, claim at power-up
_WATCHED = np.array([address not in TOOLS for address in range(256)])
_BATTERY_PGN, _BATTERY = 65271, "battery_potential"
_DIP_SHARE, _DIP_VOLTS = 1 / 24, 0.5
_LEVEL_SAMPLES = 30
_HELD_NS = 2_000_000_000  # how far back a delay is thought to reach
_HARMLESS = ("back to error-active",)


@dataclass(slots=True)
class WiggleEvent:
    """Something that happened while the harness was moved.

    Attributes:
        kind: late, errors, dip, mark or link. channel: where; empty for a mark.
        start_ns: when it began (for `late`, the last frame before). noticed_ns: when it could be told.
        end_ns: when it was over, None while it lasts.
        address: who; None for the bus. count: error frames. detail: more words. volts: lowest, for a dip.
        restarted: the address claimed its address anew when it came back, so it had lost its supply.
        doubtful: its frames were held up on the way to us, so the gap may not be the bus's.

    """

    kind: str
    channel: str
    start_ns: int
    noticed_ns: int
    end_ns: int | None = None
    address: int | None = None
    count: int = 0
    detail: str = ""
    volts: float | None = None
    restarted: bool = False
    doubtful: bool = False

    @property
    def text(self) -> str:
        """In words, without the time."""
        if self.kind == "late":
            silent = "" if self.end_ns is None else f" for {(self.end_ns - self.start_ns) / 1e9:.2f} s"
            back = ", then it restarted" if self.restarted else ""
            doubt = " (doubtful: frames were held up on their way)" if self.doubtful else ""
            return f"{self.address} ({address_name(self.address or 0)}) silent{silent}{back}{doubt}"
        if self.kind == "errors":
            return f"{self.count} error frame{'s' if self.count != 1 else ''} ({self.detail})"
        if self.kind == "dip":
            return f"battery potential down to {self.volts:.2f} V, {self.detail}"
        return self.detail or self.kind


@dataclass(slots=True)
class _Channel:
    """What is known of one channel."""

    last_ns: np.ndarray = field(default_factory=lambda: np.zeros(256, np.int64))
    first_ns: np.ndarray = field(default_factory=lambda: np.zeros(256, np.int64))
    limit_ns: np.ndarray = field(default_factory=lambda: np.zeros(256, np.int64))  # 0: still learning
    gaps: dict[int, list[int]] = field(default_factory=dict)
    silent: dict[int, WiggleEvent] = field(default_factory=dict)
    skipped: set[int] = field(default_factory=set)  # whose next gap is not the bus's
    back: dict[int, WiggleEvent] = field(default_factory=dict)
    errors: WiggleEvent | None = None
    rung_ns: int = 0  # for the burst that goes on
    dip: WiggleEvent | None = None
    levels: deque[float] = field(default_factory=lambda: deque(maxlen=_LEVEL_SAMPLES))


class WiggleWatch:
    """Watches the frames of all channels.

    Args:
        learn_ns: how long an address is only listened to before it can be late.

    Attributes:
        events: everything so far, in the order it was noticed; the last ones may still grow.

    """

    def __init__(self, learn_ns: int = LEARN_NS) -> None:
        self.events: list[WiggleEvent] = []
        self._learn_ns = learn_ns
        self._channels: dict[str, _Channel] = {}
        self._renewed: list[WiggleEvent] = []

    def eat(self, part: Marked) -> list[WiggleEvent]:
        """Take the next frames. Returns what is new, or goes on after another second, for the bell."""
        before = len(self.events)
        self._renewed = []
        frames = part.frames
        for number in np.unique(frames.channel):
            name = frames.channels[number]
            channel = self._channels.setdefault(name, _Channel())
            mine = frames.channel == number
            is_error = (frames.flags & ERROR) != 0
            self._errors(name, channel, frames, np.flatnonzero(mine & is_error))
            rows = np.flatnonzero(mine & ~is_error & ((frames.flags & EXTENDED) != 0))
            if len(rows):
                self._heard(name, channel, frames, part.marks.source_gap_ns[rows], rows)
                self._battery(name, channel, frames, rows)
        return self._renewed + self.events[before:]

    def advance(self, name: str, now_ns: int) -> list[WiggleEvent]:
        """Let time pass on a channel: everything up to `now_ns` has been eaten. Returns who is late now."""
        channel = self._channels.get(name)
        if channel is None:
            return []
        before = len(self.events)
        away = now_ns - channel.last_ns
        for address in np.flatnonzero(
            (channel.limit_ns > 0) & (channel.last_ns > 0) & (away > channel.limit_ns)
        ).tolist():
            if address not in channel.silent:
                event = WiggleEvent("late", name, int(channel.last_ns[address]), now_ns, address=address)
                channel.silent[address] = event
                self.events.append(event)
        return self.events[before:]

    def mark(self, time_ns: int, text: str, kind: str = "mark", channel: str = "") -> WiggleEvent:
        """Note a moment: a mark set by hand, or an event of the link itself (unplugged, stalled)."""
        event = WiggleEvent(kind, channel, time_ns, time_ns, time_ns, detail=text)
        self.events.append(event)
        return event

    def interrupted(self, name: str) -> None:
        """Frames are missing because our own port was away: nobody is late for that."""
        channel = self._channels.get(name)
        if channel is not None:
            channel.skipped = set(np.flatnonzero(channel.last_ns).tolist())
            channel.last_ns[:] = 0
            channel.silent.clear()

    def held_up(self, name: str, time_ns: int) -> None:
        """Frames that arrived at `time_ns` were held up on their way: gaps that end there are doubtful."""
        for event in reversed(self.events):
            if event.start_ns < time_ns - _HELD_NS:
                break
            if event.kind == "late" and event.channel == name and (event.end_ns or time_ns) >= time_ns - _HELD_NS:
                event.doubtful = True

    def learn_again(self) -> None:
        """Forget the habits learned so far."""
        for channel in self._channels.values():
            channel.limit_ns[:] = 0
            channel.first_ns[:] = 0
            channel.gaps.clear()
            channel.silent.clear()

    def learned(self) -> dict[str, dict[int, float]]:
        """For each channel, the addresses watched and after how many seconds each counts as late."""
        return {
            name: {int(a): float(channel.limit_ns[a] / 1e9) for a in np.flatnonzero(channel.limit_ns)}
            for name, channel in self._channels.items()
        }

    def heard(self) -> dict[str, list[int]]:
        """For each channel, every address heard, tools left out."""
        return {
            name: [a for a in np.flatnonzero(channel.last_ns).tolist() if a not in TOOLS]
            for name, channel in self._channels.items()
        }

    def _heard(self, name: str, channel: _Channel, frames: FrameBatch, gap_ns: np.ndarray, rows: np.ndarray) -> None:
        source = frames.identifier[rows] & 0xFF
        time_ns = frames.time_ns[rows]
        limit = channel.limit_ns[source]
        claims = pgns(frames.identifier[rows]) == ADDRESS_CLAIM
        # One by one, in order, and only what needs it: then it does not matter where a batch ends.
        for i in np.flatnonzero(_WATCHED[source] & ((gap_ns > limit) | (limit == 0) | claims)).tolist():
            address, now, gap = int(source[i]), int(time_ns[i]), int(gap_ns[i])
            if address in channel.skipped:
                channel.skipped.discard(address)
            elif not channel.limit_ns[address]:
                self._learn(channel, address, now, gap)
            elif gap > channel.limit_ns[address]:
                self._ended(name, channel, address, now, gap)
            if claims[i]:
                self._restarted(channel, address, now)
        if channel.skipped:
            channel.skipped.difference_update(source.tolist())
        channel.last_ns[source] = time_ns  # of frames with the same source the last one stays

    def _ended(self, name: str, channel: _Channel, address: int, time_ns: int, gap_ns: int) -> None:
        event = channel.silent.pop(address, None)
        if event is None:
            event = WiggleEvent("late", name, time_ns - gap_ns, time_ns, address=address)
            self.events.append(event)
        event.end_ns = time_ns
        channel.back[address] = event

    def _restarted(self, channel: _Channel, address: int, now: int) -> None:
        event = channel.silent.get(address) or channel.back.get(address)
        if event is not None and (event.end_ns is None or now - event.end_ns < _RESTART_NS):
            event.restarted = True

    def _learn(self, channel: _Channel, address: int, time_ns: int, gap_ns: int) -> None:
        gaps = channel.gaps.setdefault(address, [])
        if not channel.first_ns[address]:
            channel.first_ns[address] = time_ns
        elif gap_ns >= 0:
            gaps.append(gap_ns)
        if time_ns - channel.first_ns[address] >= self._learn_ns and len(gaps) >= _FEWEST:
            ordered = np.sort(np.array(gaps))
            longest = ordered[-3] if len(gaps) >= _MANY else ordered[-1]
            usual = float(np.quantile(ordered, _USUAL))
            channel.limit_ns[address] = int(max(SHORTEST_NS, _GAPS * usual, 1.5 * longest))
            del channel.gaps[address]

    def _errors(self, name: str, channel: _Channel, frames: FrameBatch, rows: np.ndarray) -> None:
        for row in rows.tolist():
            error = decode_error(int(frames.identifier[row]), frames.data[row].tobytes())
            words = [*error.classes, *error.protocol, *error.transceiver]
            if not error.classes or error.controller == _HARMLESS:
                continue
            time_ns, burst = int(frames.time_ns[row]), channel.errors
            if burst is None or time_ns - (burst.end_ns or 0) > _TOGETHER_NS:
                burst = WiggleEvent("errors", name, time_ns, time_ns, detail=", ".join(dict.fromkeys(words)))
                channel.errors, channel.rung_ns = burst, time_ns
                self.events.append(burst)
            elif time_ns - channel.rung_ns > _TOGETHER_NS:
                channel.rung_ns = time_ns
                self._renewed.append(burst)
            burst.count += 1
            burst.end_ns = time_ns

    def _battery(self, name: str, channel: _Channel, frames: FrameBatch, rows: np.ndarray) -> None:
        rows = rows[pgns(frames.identifier[rows]) == _BATTERY_PGN]
        if not len(rows):
            return
        decoded = signal_table().decode(_BATTERY_PGN, frames.data[rows], frames.length[rows])[_BATTERY].values
        for row, volts in zip(rows.tolist(), decoded.tolist(), strict=True):
            if volts == volts:  # noqa: PLR0124  # not a number: nothing was measured
                self._volts(name, channel, int(frames.time_ns[row]), int(frames.identifier[row]) & 0xFF, volts)

    def _volts(self, name: str, channel: _Channel, time_ns: int, address: int, volts: float) -> None:
        levels = channel.levels
        level = float(np.median(levels)) if len(levels) >= 3 else None
        if level is None or volts > level - max(_DIP_VOLTS, _DIP_SHARE * level):
            levels.append(volts)
            if channel.dip is not None:
                channel.dip.end_ns, channel.dip = time_ns, None
            return
        if channel.dip is None:
            channel.dip = WiggleEvent("dip", name, time_ns, time_ns, address=address, volts=volts)
            channel.dip.detail = f"usually {level:.2f} V, as {address_name(address)} measures it"
            self.events.append(channel.dip)
        channel.dip.volts = min(channel.dip.volts or volts, volts)
