"""The analysis of a whole source: batches in, one `TrafficResult` out.

The clock is straightened, frames are marked (bits, keys, gaps), and each channel's share goes to its own analysers.
A result can be asked for at any time; the analysis goes on afterwards.
"""

from __future__ import annotations

import copy
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np

from linkcheck.frames import FrameBatch, Marks, Tracker
from linkcheck.traffic.channel import ChannelAnalysis
from linkcheck.traffic.findings import source_findings
from linkcheck.traffic.options import KeyTable, Options
from linkcheck.traffic.result import SCHEMA, TrafficResult
from linkcheck.traffic.timeline import Timeline

__all__ = ["Analysis", "Marked"]


@dataclass(frozen=True, slots=True, eq=False)
class Marked:
    """Frames with their marks, and the key table as it stood after them."""

    frames: FrameBatch
    marks: Marks
    keys: KeyTable

    def take(self, rows: np.ndarray) -> Marked:
        """Some of the frames, with their marks."""
        return Marked(self.frames.take(rows), _take(self.marks, rows), self.keys)


class Analysis:
    """Eats batches of one source, live or recorded."""

    def __init__(self, options: Options | None = None) -> None:
        self.options = options or Options()
        self.timeline = Timeline()
        self._tracker = Tracker()
        self._channels: dict[str, ChannelAnalysis] = {}
        self.frames = 0
        self._table = KeyTable()
        self._first_ns: int | None = None

    def eat(self, batch: FrameBatch) -> None:
        """Take the next frames."""
        for part in self.mark(batch):
            self.count(part)

    def mark(self, batch: FrameBatch) -> Iterator[Marked]:
        """The first half of `eat`: straighten the clock, pick what is wanted, mark it. May run in another thread.

        Every part must be handed to `count`, in order.
        """
        for laid, begins_segment in self.timeline.lay(batch):
            if begins_segment:
                self._tracker.forget()
            frames = self._wanted(laid)
            if len(frames):
                marks = self._tracker.annotate(frames)
                yield Marked(frames, marks, KeyTable(self._tracker.key_identifier, self._tracker.key_flags))

    def count(self, part: Marked) -> None:
        """The second half of `eat`: every channel counts its share."""
        frames = part.frames
        self.frames += len(frames)
        self._table = part.keys
        present = np.flatnonzero(np.bincount(frames.channel, minlength=1))
        for number in present:
            name = frames.channels[number]
            channel = self._channels.setdefault(name, ChannelAnalysis(name))
            mine = part if len(present) == 1 else part.take(np.flatnonzero(frames.channel == number))
            channel.eat(mine.frames, mine.marks, mine.keys)

    def _wanted(self, batch: FrameBatch) -> FrameBatch:
        """The frames the user asked to see: a stretch of time, some channels."""
        options = self.options
        if self._first_ns is None:
            self._first_ns = int(batch.time_ns[0])
        if options.from_s is None and options.to_s is None and options.channels is None:
            return batch
        since = batch.time_ns - self._first_ns
        keep = np.ones(len(batch), np.bool_)
        if options.from_s is not None:
            keep &= since >= options.from_s * 1e9
        if options.to_s is not None:
            keep &= since <= options.to_s * 1e9
        if options.channels is not None:
            keep &= np.array([name in options.channels for name in batch.channels])[batch.channel]
        return batch if keep.all() else batch.take(np.flatnonzero(keep))

    def result(self, source: dict[str, Any] | None = None, *, partial: bool = False) -> TrafficResult:
        """The answer so far. `source` is the reader's account; the analysis may go on."""
        account = source or {}
        channels = {
            name: copy.deepcopy(channel).result(self._table, self.options)
            for name, channel in sorted(self._channels.items())
        }
        return TrafficResult(SCHEMA, account, partial, channels, source_findings(account, self.timeline))


def _take(marks: Marks, rows: np.ndarray) -> Marks:
    return Marks(
        marks.wire_bits[rows],
        marks.dominant_bits[rows],
        marks.key[rows],
        marks.gap_ns[rows],
        marks.source_gap_ns[rows],
        marks.bus_gap_ns[rows],
        None if marks.fast_bits is None else marks.fast_bits[rows],
    )
