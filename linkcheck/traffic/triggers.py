"""What makes a recorder keep the seconds around a moment: a burst of errors, a silent bus, a code that appears.

Fed with the same marked frames as every analyser; time passes by `advance`. What is kept, and where, is the recorder's
business.
"""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass

import numpy as np

from linkcheck.errors import UsageError
from linkcheck.frames import ERROR
from linkcheck.traffic.engine import Marked
from linkcheck.traffic.messages import Messages

__all__ = ["TRIGGERS", "Trigger", "Triggers"]

TRIGGERS = ("errors", "silence", "code", "mark")
BURST, BURST_NS = 10, 1_000_000_000  # so many error frames in so long are a burst, not a glitch
SILENCE_NS = 1_000_000_000


@dataclass(frozen=True, slots=True)
class Trigger:
    """A moment worth keeping: when, on which channel, which trigger, in words."""

    time_ns: int
    channel: str
    kind: str
    text: str


class Triggers:
    """Watches for the moments asked for.

    Args:
        kinds: some of `TRIGGERS` ("mark" is set by hand and never comes from here).
        burst: error frames within a second that make a burst.
        silence_ns: how long a bus that has talked must be silent.

    Raises:
        UsageError: no such trigger.

    """

    def __init__(self, kinds: frozenset[str], *, burst: int = BURST, silence_ns: int = SILENCE_NS) -> None:
        unknown = sorted(kinds - set(TRIGGERS))
        if unknown:
            raise UsageError(f"There is no trigger called {unknown[0]!r}.", todo=f"Known are: {', '.join(TRIGGERS)}.")
        self._kinds, self._burst, self._silence_ns = kinds, burst, silence_ns
        self._errors: dict[str, deque[int]] = {}
        self._last: dict[str, int] = {}
        self._silent: set[str] = set()
        self._messages: dict[str, Messages] = {}
        self._codes: dict[str, set[tuple[int, int, int, bool]]] = {}

    def eat(self, part: Marked) -> list[Trigger]:
        """Take the next frames; returns the moments among them."""
        found: list[Trigger] = []
        frames = part.frames
        for number in np.unique(frames.channel).tolist():
            name = frames.channels[number]
            rows = np.flatnonzero(frames.channel == number)
            is_error = (frames.flags[rows] & ERROR) != 0
            if "errors" in self._kinds:
                found += self._bursts(name, frames.time_ns[rows[is_error]].tolist())
            good = rows[~is_error]
            if len(good):
                self._last[name] = int(frames.time_ns[good[-1]])
                self._silent.discard(name)
            if "code" in self._kinds:
                found += self._new_codes(name, part, rows)
        return found

    def _bursts(self, name: str, times: list[int]) -> list[Trigger]:
        recent = self._errors.setdefault(name, deque(maxlen=self._burst))
        for time_ns in times:
            recent.append(time_ns)
            if len(recent) == self._burst and time_ns - recent[0] <= BURST_NS:
                recent.clear()
                return [Trigger(time_ns, name, "errors", f"{self._burst} error frames within a second")]
        return []

    def _new_codes(self, name: str, part: Marked, rows: np.ndarray) -> list[Trigger]:
        messages = self._messages.setdefault(name, Messages())
        mine = part.take(rows)
        messages.eat(mine.frames, mine.marks, mine.keys)
        known = self._codes.get(name)
        fresh = messages.codes.keys() - (known or set())
        self._codes[name] = set(messages.codes)
        return [
            Trigger(messages.codes[key].first_ns, name, "code", f"address {key[0]} reports SPN {key[1]} FMI {key[2]}")
            for key in sorted(fresh)
        ]

    def advance(self, name: str, now_ns: int) -> list[Trigger]:
        """Let time pass on a channel."""
        last = self._last.get(name)
        if "silence" not in self._kinds or last is None or name in self._silent or now_ns - last < self._silence_ns:
            return []
        self._silent.add(name)
        return [Trigger(now_ns, name, "silence", f"no frame for {self._silence_ns / 1e9:g} s")]
