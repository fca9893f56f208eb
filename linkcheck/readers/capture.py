"""What a reader hands out: batches, and an exact account of every line or row it met.

Nothing is dropped silently: `lines == frames + skipped + comments` holds for every source at its end (rows stand for
lines in formats that have none).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Protocol

from linkcheck.frames import FrameBatch

__all__ = ["KEPT_SKIPS", "Capture", "Skip", "Tally"]

KEPT_SKIPS = 1000  # skipped lines kept with number and reason; the rest are only counted


@dataclass(frozen=True, slots=True)
class Skip:
    """A line or row that gave no frame: its number, from 1, and why."""

    line: int
    reason: str


@dataclass(slots=True)
class Tally:
    """The account of one source, complete once its batches are exhausted.

    Attributes:
        lines: lines or rows met. frames: those that gave a frame. skipped: those that did not.
        comments: blank lines, headers and remarks. dropped: frames the recorder itself says it lost.
        skipped_lines: the first 1,000 skipped lines. notes: sentences about the source as a whole.

    """

    lines: int = 0
    frames: int = 0
    skipped: int = 0
    comments: int = 0
    dropped: int = 0
    skipped_lines: list[Skip] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)

    def skip(self, line: int, reason: str) -> None:
        """Count a skipped line, and keep it while there is room."""
        self.skipped += 1
        if len(self.skipped_lines) < KEPT_SKIPS:
            self.skipped_lines.append(Skip(line, reason))


class Capture(Protocol):
    """An open source of frames.

    Attributes:
        path: as the user gave it ("-" for standard input). format: a plain name ("candump log", "TRC 2.1", ...).
        tally: grows while `batches` is consumed. progress: share of the source read, 0-1, or None when unknown.
        timeless: the recording has no times; `time_ns` then only counts frames.

    """

    path: str
    format: str
    tally: Tally

    @property
    def timeless(self) -> bool:
        """Whether the recording has no times; known before the first batch."""

    @property
    def progress(self) -> float | None:
        """Share of the source read so far, or None for a pipe."""

    def batches(self) -> Iterator[FrameBatch]:
        """Batches in the order recorded. May be called once."""

    def close(self) -> None:
        """Release the file."""
