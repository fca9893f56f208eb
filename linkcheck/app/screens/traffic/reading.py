"""Reading a capture beside the screen: progress out, a result in the end, and an answer even when it was stopped."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from linkcheck.traffic.result import TrafficResult

__all__ = ["CaptureReading"]

TOLD_EVERY_S = 0.2


class _StoppedError(Exception):
    """The reader was told to stop."""


class CaptureReading:
    """One capture being read, in a thread of the caller's.

    Args:
        path: the file.

    """

    def __init__(self, path: str) -> None:
        self.path = path
        self._stop = threading.Event()
        self._told = 0.0

    def stop(self) -> None:
        """Stop as soon as can be; `run` then answers with what is known so far. Any thread may call this."""
        self._stop.set()

    def run(self, on_progress: Callable[[float | None, int], None]) -> TrafficResult:
        """Read to the end, or until stopped.

        Args:
            on_progress: told the share read (None where nobody knows) and the frames so far, a few times a second.

        Raises:
            DataError: the file cannot be read at all.

        """
        from linkcheck.survey import CaptureFile  # noqa: PLC0415  numpy: not before a capture is opened
        from linkcheck.traffic import Options  # noqa: PLC0415

        def told(share: float | None, frames: int) -> None:
            if self._stop.is_set():
                raise _StoppedError
            now = time.monotonic()
            if now - self._told >= TOLD_EVERY_S:
                self._told = now
                on_progress(share, frames)

        capture = CaptureFile(self.path, Options())
        try:
            return capture.run(told)
        except _StoppedError:
            return capture.result(partial=True)
