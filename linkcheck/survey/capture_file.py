"""One capture, from its path to its `TrafficResult`.

The faces (command line, app, report) and the survey of many files all come through here.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Iterator
from typing import Any

from linkcheck.frames.kernel import kernel_name
from linkcheck.readers import Capture, open_capture, regroup
from linkcheck.readers.ahead import ReadAhead
from linkcheck.traffic import Analysis, Marked, Options, TrafficResult

__all__ = ["CaptureFile"]

_DEPTH = 4  # parts marked ahead of the counting

ProgressSink = Callable[[float | None, int], None]


class CaptureFile:
    """An analysis of a file that can be stopped at any time and still answers.

    Args:
        path: the file, or "-" for standard input.
        options: what the user knows.
        file_format: the format's name where it should not be guessed.

    Raises:
        DataError: the file cannot be read at all.

    """

    def __init__(self, path: str, options: Options, file_format: str | None = None) -> None:
        self.path = path
        self._options = options
        self._format = file_format
        self._capture: Capture = open_capture(path, format=file_format)
        self._begin()

    def _begin(self) -> None:
        self._analysis = Analysis(dataclasses.replace(self._options, timeless=self._capture.timeless))

    def run(self, on_progress: ProgressSink = lambda _share, _frames: None) -> TrafficResult:
        """Analyse to the end. After an interrupt, `result(partial=True)` still tells what is known so far."""
        self._consume(on_progress)
        if self._analysis.timeline.seam_count and self.path != "-":
            # Time went back: either the clock restarted, or the file is sorted by identifier and must be read by time.
            by_time = regroup(self.path, format=self._format)
            if by_time is not None:
                self._capture = by_time
                self._begin()
                self._consume(on_progress)
        return self.result()

    def _consume(self, on_progress: ProgressSink) -> None:
        # Parsing and marking leave the interpreter's lock to the counting, so two cores are kept busy.
        ahead = ReadAhead(self._marked(), _DEPTH)
        try:
            while (part := ahead.take()) is not None:
                self._analysis.count(part)
                on_progress(self._capture.progress, self._analysis.frames)
        finally:
            ahead.stop()

    def _marked(self) -> Iterator[Marked]:
        # Runs in the reading thread, which also closes the file: closing it from elsewhere would wait for a read that
        # may never return.
        try:
            for batch in self._capture.batches():
                yield from self._analysis.mark(batch)
        finally:
            self._capture.close()

    def result(self, *, partial: bool = False) -> TrafficResult:
        """The answer so far."""
        return self._analysis.result(self._account(), partial=partial)

    def _account(self) -> dict[str, Any]:
        tally = self._capture.tally
        return {
            "path": self.path,
            "format": self._capture.format,
            "kernel": kernel_name(),
            "lines": tally.lines,
            "frames": tally.frames,
            "skipped": tally.skipped,
            "comments": tally.comments,
            "dropped": tally.dropped,
            "skipped_lines": [dataclasses.asdict(skip) for skip in tally.skipped_lines],
            "notes": list(tally.notes),
        }
