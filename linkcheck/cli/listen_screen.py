"""What `linkcheck listen` shows while it runs: a line for everything that happens, and one status line below them.

All of it goes to standard error; the page at the end is data and goes to standard output. The bell is rung here.
"""

from __future__ import annotations

import os
import shutil
import sys
import time

from linkcheck.survey.listening import event_line, gauge_words
from linkcheck.survey.live_capture import LiveCapture, LiveEvent
from linkcheck.traffic.wiggle import WiggleEvent

__all__ = ["ListenScreen"]

_EVERY_S = 0.25


class ListenScreen:
    """Lines on standard error.

    Args:
        capture: what is shown. bell: ring it for alarms.

    """

    def __init__(self, capture: LiveCapture, *, bell: bool) -> None:
        self._capture, self._bell = capture, bell
        self._tty = sys.stderr.isatty() and os.environ.get("TERM") != "dumb"
        self._next = 0.0

    def alarm(self, events: list[WiggleEvent]) -> None:
        """Ring once for everything new, then say what it is."""
        if not events:
            return
        if self._bell:
            sys.stderr.write("\a")
            sys.stderr.flush()
        for event in events:
            self._line(event)

    def event(self, event: LiveEvent) -> None:
        """Say what happened to a port or to the record."""
        self._line(event)

    def _line(self, event: LiveEvent | WiggleEvent) -> None:
        clear = "\r\x1b[K" if self._tty else ""
        print(f"{clear}{event_line(event, self._capture.started_ns)}", file=sys.stderr, flush=True)
        self._next = 0.0

    def status(self) -> None:
        """Redraw the status line, four times a second, on a terminal only."""
        now = time.monotonic()
        if not self._tty or now < self._next:
            return
        self._next = now + _EVERY_S
        seconds = (self._capture.now_ns - self._capture.started_ns) / 1e9
        text = f"{seconds:6.0f} s  " + "   ".join(gauge_words(gauge) for gauge in self._capture.gauges())
        recorder = self._capture.recorder
        if recorder is not None:
            text += "   NOT RECORDING" if recorder.problem else f"   {recorder.written:,} recorded"
        columns = shutil.get_terminal_size((80, 24)).columns
        print(f"\r{text[: columns - 1]}\x1b[K", end="", file=sys.stderr, flush=True)

    def clear(self) -> None:
        """Leave no status line behind."""
        if self._tty:
            print("\r\x1b[K", end="", file=sys.stderr, flush=True)
