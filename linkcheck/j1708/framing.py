"""Bytes with times in, bursts out: J1708 ends a message by silence, so time is what frames it.

A byte takes ten bits at 9600 bit/s (8N1). Inside a message at most 2 bit times of idle may pass between bytes, after
it at least 10 (SAE J1708, as restated in the open firmware grimm-co/stm32-j1708). The line drawn here lies halfway, so
that time stamps may be off by 0.4 ms either way.

What a burst is (a message, several that coarse stamps let run together, what a collision leaves) is told in
`messages`. No clock here: time comes in with the bytes.
"""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["BIT_NS", "BIT_RATE", "CHARACTER_BITS", "CHARACTER_NS", "END_GAP_BITS", "Burst", "Framer"]

BIT_RATE = 9600
CHARACTER_BITS = 10  # start, eight data bits, stop
BIT_NS = 1_000_000_000 / BIT_RATE
CHARACTER_NS = round(CHARACTER_BITS * BIT_NS)  # 1.0417 ms
INNER_GAP_BITS, END_GAP_BITS = 2, 10
_END_GAP_NS = round((INNER_GAP_BITS + END_GAP_BITS) / 2 * BIT_NS)
_SEAM_NS = -1_000_000_000  # stamps that go back further are a new recording or a clock that was set
LONGEST_BURST = 256  # bytes; a line that chatters without end is cut here


@dataclass(frozen=True, slots=True)
class Burst:
    """Bytes without silence between them; times of the first start bit and the last stop bit."""

    start_ns: int
    end_ns: int
    data: bytes


class Framer:
    """Cuts a stream of stamped bytes into bursts.

    However the bytes are cut into chunks, the bursts are the same, as long as the times say the same.
    """

    def __init__(self) -> None:
        self._data = bytearray()
        self._start_ns = self._end_ns = 0

    def feed(self, end_ns: int, data: bytes) -> list[Burst]:
        """Take bytes that followed each other without a gap, the last of which ended at `end_ns`.

        Returns:
            the bursts that are over now; the current one is not.

        """
        done: list[Burst] = []
        for place in range(len(data)):
            byte_end = end_ns - (len(data) - 1 - place) * CHARACTER_NS
            gap = byte_end - CHARACTER_NS - self._end_ns
            if self._data and (gap > _END_GAP_NS or gap < _SEAM_NS or len(self._data) >= LONGEST_BURST):
                done += self.finish()
            if not self._data:
                self._start_ns = byte_end - CHARACTER_NS
            self._data.append(data[place])
            self._end_ns = byte_end
        return done

    def quiet(self, now_ns: int) -> list[Burst]:
        """The current burst, if the line has been silent long enough by `now_ns`: a live link must not wait."""
        return self.finish() if now_ns - self._end_ns > _END_GAP_NS else []

    def finish(self) -> list[Burst]:
        """The current burst, whatever follows; nothing if there is none."""
        if not self._data:
            return []
        burst = Burst(self._start_ns, max(self._end_ns, self._start_ns + CHARACTER_NS), bytes(self._data))
        self._data.clear()
        return [burst]
