"""Standard error and terminal manners, in one place. Standard output is data and belongs to the commands."""

from __future__ import annotations

import os
import shutil
import sys
import time

__all__ = ["Progress", "complain", "say", "width"]


def say(sentence: str) -> None:
    """A remark beside the data."""
    print(sentence, file=sys.stderr)


def complain(sentence: str) -> None:
    """The one sentence about what went wrong."""
    print(f"linkcheck: {sentence}", file=sys.stderr)


def width(most: int = 100) -> int:
    """Columns to write for: the terminal's, at least 60, at most `most`."""
    return max(60, min(most, shutil.get_terminal_size((80, 24)).columns))


class Progress:
    """A single line on standard error that says how far the work is; silent unless that is a terminal."""

    def __init__(self, label: str, unit: str = "frames") -> None:
        self._label, self._unit = label, unit
        self._shown = sys.stderr.isatty() and os.environ.get("TERM") != "dumb"
        self._next = time.monotonic() + 0.3  # short work shows nothing

    def update(self, share: float | None, frames: int) -> None:
        """Redraw at most five times a second."""
        now = time.monotonic()
        if not self._shown or now < self._next:
            return
        self._next = now + 0.2
        done = f"{share:4.0%}" if share is not None else ""
        print(f"\r{self._label} {done} {frames:,} {self._unit}\x1b[K", end="", file=sys.stderr, flush=True)

    def clear(self) -> None:
        """Leave no trace on the line."""
        if self._shown:
            print("\r\x1b[K", end="", file=sys.stderr, flush=True)
