"""The analysis of a whole source: batches in, one `TrafficResult` out.

The clock is straightened, frames are marked (bits, keys, gaps), and each channel's share goes to its own analysers.
A result can be asked for at any time; the analysis goes on afterwards.
"""

from __future__ import annotations

import copy
from typing import Any

import numpy as np

from linkcheck.frames import FrameBatch, Marks, Tracker
from linkcheck.traffic.channel import ChannelAnalysis
from linkcheck.traffic.findings import source_findings
from linkcheck.traffic.options import KeyTable, Options
from linkcheck.traffic.result import SCHEMA, TrafficResult
from linkcheck.traffic.timeline import Timeline

__all__ = ["Analysis"]


class Analysis:
    """Eats batches of one source, live or recorded."""

    def __init__(self, options: Options | None = None) -> None:
        self.options = options or Options()
        self.timeline = Timeline()
        self._tracker = Tracker()
        self._channels: dict[str, ChannelAnalysis] = {}
        self.frames = 0
        self._first_ns: int | None = None

    def eat(self, batch: FrameBatch) -> None:
        """Take the next frames."""
        for laid, begins_segment in self.timeline.lay(batch):
            if begins_segment:
                self._tracker.forget()
            part = self._wanted(laid)
            if not len(part):
                continue
            marks = self._tracker.annotate(part)
            keys = self._keys()
            self.frames += len(part)
            present = np.flatnonzero(np.bincount(part.channel, minlength=1))
            for number in present:
                name = part.channels[number]
                channel = self._channels.setdefault(name, ChannelAnalysis(name))
                if len(present) == 1:
                    channel.eat(part, marks, keys)
                else:
                    rows = np.flatnonzero(part.channel == number)
                    channel.eat(part.take(rows), _take(marks, rows), keys)

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

    def _keys(self) -> KeyTable:
        return KeyTable(self._tracker.key_identifier, self._tracker.key_flags)

    def result(self, source: dict[str, Any] | None = None, *, partial: bool = False) -> TrafficResult:
        """The answer so far. `source` is the reader's account; the analysis may go on."""
        keys = self._keys()
        account = source or {}
        channels = {
            name: copy.deepcopy(channel).result(keys, self.options) for name, channel in sorted(self._channels.items())
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
