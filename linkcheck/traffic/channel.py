"""All analysers of one channel, fed with the same batches; and the walk from their counts to a `ChannelResult`.

Replay and live use this very object. Nothing here depends on where one batch ends and the next begins.
"""

from __future__ import annotations

import numpy as np

from linkcheck.frames import ERROR, EXTENDED, FD, REMOTE, FrameBatch, Marks
from linkcheck.traffic.assemble import assemble_channel
from linkcheck.traffic.bit_rate import RateMeter
from linkcheck.traffic.duplicates import DuplicateWatch
from linkcheck.traffic.error_frames import ErrorFrames
from linkcheck.traffic.messages import Messages
from linkcheck.traffic.mislabelled import MislabelWatch
from linkcheck.traffic.options import KeyTable, Options
from linkcheck.traffic.result import ChannelResult
from linkcheck.traffic.senders import Senders
from linkcheck.traffic.series import Series
from linkcheck.traffic.signals import Signals
from linkcheck.traffic.window import Windows

__all__ = ["ChannelAnalysis"]


class ChannelAnalysis:
    """What is known of one channel so far."""

    def __init__(self, name: str) -> None:
        self.name = name
        self.frames = 0
        self.first_ns: int | None = None
        self.last_ns: int | None = None
        self.wire_bits = 0
        self.dominant_bits = 0
        self.fast_bits = 0
        self.kinds = np.zeros(256, np.int64)  # by flags
        self.load = Series(2)
        self.senders = Senders()
        self.errors = ErrorFrames()
        self.messages = Messages()
        self.signals = Signals()
        self.rate = RateMeter()
        self.duplicates = DuplicateWatch()
        self.mislabelled = MislabelWatch()
        self._windows = Windows((self.rate.examine, self.duplicates.examine, self.mislabelled.examine))

    def eat(self, batch: FrameBatch, marks: Marks, keys: KeyTable) -> None:
        """Count a batch of this channel only."""
        self.frames += len(batch)
        first, last = int(batch.time_ns.min()), int(batch.time_ns.max())
        self.first_ns = first if self.first_ns is None else min(self.first_ns, first)
        self.last_ns = last if self.last_ns is None else max(self.last_ns, last)
        self.wire_bits += int(marks.wire_bits.sum(dtype=np.int64))
        self.dominant_bits += int(marks.dominant_bits.sum(dtype=np.int64))
        if marks.fast_bits is not None:
            self.fast_bits += int(marks.fast_bits.sum(dtype=np.int64))
        self.kinds += np.bincount(batch.flags, minlength=256)
        self.load.add(batch.time_ns, (marks.wire_bits, marks.dominant_bits))
        self.senders.eat(batch, marks, len(keys.identifier))
        self.errors.eat(batch)
        self.messages.eat(batch, marks, keys)
        self.signals.eat(batch, marks, keys)
        self._windows.eat(batch, marks)

    def count_of(self, flag: int) -> int:
        """Frames with a flag set."""
        return int(self.kinds[(np.arange(256) & flag) != 0].sum())

    @property
    def data_frames(self) -> int:
        """Frames that are neither errors nor remote."""
        return int(self.kinds[(np.arange(256) & (ERROR | REMOTE)) == 0].sum())

    @property
    def extended_frames(self) -> int:
        """Frames with 29-bit identifiers, errors apart."""
        return int(self.kinds[(np.arange(256) & (ERROR | EXTENDED)) == EXTENDED].sum())

    @property
    def fd_frames(self) -> int:
        """CAN FD frames."""
        return self.count_of(FD)

    def result(self, keys: KeyTable, options: Options) -> ChannelResult:
        """The channel as it stands. Called once, at the end, or on a copy of the analysis."""
        self._windows.finish()
        self.messages.finish()
        return assemble_channel(self, keys, options)
