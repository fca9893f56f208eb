"""Writes what is heard as candump logs: flushed at once, rotated by size, in a ring, or only around triggers.

A full disk stops the writing and nothing else: the file is cut back to its last whole line, what is missed is counted,
and writing is tried again. What is no frame (unplugged, marks, triggers, the disk itself) goes to a file of events
beside the log, one JSON object a line, so that the log stays what every other program reads.
"""

from __future__ import annotations

import json
import re
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO

import zstandard

from linkcheck.errors import DataError, UsageError
from linkcheck.frames import FrameBatch
from linkcheck.readers.candump import format_candump

__all__ = ["Plan", "Recorder"]

RETRY_NS = 5_000_000_000
_ZST_FLUSH_NS = 1_000_000_000  # a block an hour is compressed best, a block a second is lost least
_MOST_EVENTS = 10_000  # that wait for a disk with room
_LONGEST_PRE_S = 600.0


@dataclass(frozen=True, slots=True)
class Plan:
    """How to record.

    Attributes:
        path: the log; `.zst` at its end compresses. Numbered (`drive-0001.log`) where there may be several.
        rotate_bytes: begin another file at this size, counted before compression; None for one file.
        keep: ring mode: at most so many files, the oldest is removed; None keeps all.
        triggered: write only around triggers.
        before_s, after_s: how much around a trigger.

    Raises:
        UsageError: the parts do not fit together.

    """

    path: str
    rotate_bytes: int | None = None
    keep: int | None = None
    triggered: bool = False
    before_s: float = 10.0
    after_s: float = 10.0

    def __post_init__(self) -> None:
        if self.keep is not None and self.rotate_bytes is None and not self.triggered:
            raise UsageError("A ring needs a size at which files change.", todo="Add --rotate 10M, or a trigger.")
        if not 0 <= self.before_s <= _LONGEST_PRE_S or self.after_s < 0:
            raise UsageError(f"Up to {_LONGEST_PRE_S:g} seconds before a trigger can be kept.")

    @property
    def numbered(self) -> bool:
        """Whether there may be several files."""
        return self.triggered or self.rotate_bytes is not None


class Recorder:
    """Records one listening.

    Args:
        plan: how. open_file: makes the files, for tests.

    Attributes:
        files: the logs written and kept, oldest first. problem: why nothing is written just now; empty if all is well.
        written, missed: frames written, and frames a full disk cost.

    Raises:
        DataError: the file is there already, or cannot be written at all.

    """

    def __init__(self, plan: Plan, open_file: Callable[[Path], BinaryIO] | None = None) -> None:
        self.plan = plan
        self.files: list[Path] = []
        self.problem = ""
        self.written = self.missed = 0
        self._make = open_file or (lambda path: path.open("xb", buffering=0))
        self._stem, self._suffix = _split(plan.path)
        self._number = _last_number(self._stem, self._suffix)
        self._log: _LogFile | None = None
        self._held: deque[FrameBatch] = deque()
        self._until_ns: int | None = None  # a trigger's aftermath
        self._retry_ns = 0
        self._events: deque[str] = deque(maxlen=_MOST_EVENTS)
        self._events_path = self._stem.with_name(f"{self._stem.name}.events.jsonl")
        if not plan.triggered:
            self._begin()

    def write(self, batch: FrameBatch, now_ns: int) -> None:
        """Take the next frames; `now_ns` is the time they were delivered."""
        if self.plan.triggered and self._until_ns is None:
            self._hold(batch, now_ns)
            return
        self._write(batch, now_ns)
        if self._until_ns is not None and now_ns > self._until_ns:
            self._until_ns = None
            self._end_file()

    def trigger(self, time_ns: int, text: str) -> None:
        """Keep what was heard shortly before, and what comes shortly after."""
        self.event(time_ns, "", "trigger", text)
        if not self.plan.triggered:
            return
        fresh = self._until_ns is None
        self._until_ns = time_ns + int(self.plan.after_s * 1e9)
        if fresh:
            held, self._held = self._held, deque()
            for batch in held:
                self._write(batch, time_ns)

    def event(self, time_ns: int, channel: str, kind: str, text: str) -> None:
        """Put something that is no frame into the record."""
        row = {"time_s": time_ns / 1e9, "channel": channel, "kind": kind, "text": text}
        self._events.append(json.dumps(row, ensure_ascii=False))
        self._write_events()

    def dropped(self, channel: str, count: int, total: int) -> None:
        """Say in the log itself that frames were lost on the way here, as `candump -d` does."""
        plural = "" if count == 1 else "s"
        line = f"DROPCOUNT: dropped {count} CAN frame{plural} on '{channel}' socket (total drops {total})\n"
        if self._log is not None and not self.problem:
            self._put(line.encode(), 0, 0)

    def close(self) -> None:
        """End the files."""
        self._end_file()
        self._write_events()

    def _hold(self, batch: FrameBatch, now_ns: int) -> None:
        if len(batch):
            self._held.append(batch)
        oldest = now_ns - int(self.plan.before_s * 1e9)
        while self._held and int(self._held[0].time_ns[-1]) < oldest:
            self._held.popleft()

    def _write(self, batch: FrameBatch, now_ns: int) -> None:
        if self.problem and now_ns < self._retry_ns:
            self.missed += len(batch)
            return
        if not len(batch):
            return
        if self._put(format_candump(batch), len(batch), now_ns):
            limit = self.plan.rotate_bytes
            if limit is not None and self._log is not None and self._log.size >= limit:
                self._end_file()

    def _put(self, text: bytes, frames: int, now_ns: int) -> bool:
        try:
            if self._log is None:
                self._begin()
            if self._log is not None:
                self._log.write(text, now_ns)
        except OSError as error:
            self._fail(error, frames, now_ns)
            return False
        self.written += frames
        if self.problem:
            self.problem = ""
            self.event(now_ns, "", "disk", f"recording again; {self.missed} frames were not recorded so far")
        return True

    def _fail(self, error: OSError, frames: int, now_ns: int) -> None:
        self.missed += frames
        self._retry_ns = now_ns + RETRY_NS
        if not self.problem:
            self.problem = f"recording has stopped ({error.strerror}); listening goes on"
            self.event(now_ns, "", "disk", self.problem)
        if self._log is not None:
            if not self._log.abandon():
                self.files.pop().unlink(missing_ok=True)
                self._number -= self.plan.numbered or bool(self.files)
            self._log = None

    def _begin(self) -> None:
        path = Path(self.plan.path)
        if self.plan.numbered or self.files:
            self._number += 1
            path = self._stem.with_name(f"{self._stem.name}-{self._number:04d}{self._suffix}")
        try:
            stream = self._make(path)
        except FileExistsError as error:
            raise DataError("This file is there already.", where=str(path), todo="Give another name.") from error
        except OSError as error:
            if not self.files and not self.written:
                raise DataError(f"Cannot be written: {error.strerror}.", where=str(path)) from error
            raise
        self._log = _LogFile(stream, compressed=self._suffix.endswith(".zst"))
        self.files.append(path)
        while self.plan.keep is not None and len(self.files) > self.plan.keep:
            self.files.pop(0).unlink(missing_ok=True)

    def _end_file(self) -> None:
        log, self._log = self._log, None
        if log is not None:
            try:
                log.close()
            except OSError as error:
                self.problem = f"the end of the record could not be written ({error.strerror})"

    def _write_events(self) -> None:
        if not self._events:
            return
        try:
            with self._events_path.open("a", encoding="utf-8") as stream:
                stream.write("".join(f"{row}\n" for row in self._events))
        except OSError:
            return  # they wait; a full disk is told by the log
        self._events.clear()


class _LogFile:
    """One log on disk, plain or zst, that can be cut back to the last good write."""

    def __init__(self, stream: BinaryIO, *, compressed: bool) -> None:
        self._stream = stream
        self.size = 0
        self._good = 0
        self._compressor = zstandard.ZstdCompressor(level=3).compressobj() if compressed else None
        self._flush_ns = 0

    def write(self, text: bytes, now_ns: int) -> None:
        self.size += len(text)
        block = text
        if self._compressor is not None:
            block = self._compressor.compress(text)
            if now_ns >= self._flush_ns:
                self._flush_ns = now_ns + _ZST_FLUSH_NS
                block += self._compressor.flush(zstandard.COMPRESSOBJ_FLUSH_BLOCK)
        self._put(block)

    def _put(self, block: bytes) -> None:
        rest = memoryview(block)
        while rest:
            rest = rest[self._stream.write(rest) :]
        self._good += len(block)

    def abandon(self) -> bool:
        """The disk is full: keep what was whole. Tells whether there is anything to keep."""
        try:
            self._stream.truncate(self._good)
        except OSError:
            pass  # a device, or a disk that is gone altogether
        finally:
            self._stream.close()
        return self._good > 0

    def close(self) -> None:
        try:
            if self._compressor is not None:
                self._put(self._compressor.flush())
        finally:
            self._stream.close()


def _split(path: str) -> tuple[Path, str]:
    """`logs/drive.log.zst` as `logs/drive` and `.log.zst`."""
    whole = Path(path)
    match = re.search(r"(\.(?:log|txt|candump))?(\.zst)?$", whole.name)
    suffix = match[0] if match else ""
    stem = whole.name[: len(whole.name) - len(suffix)]
    if not stem:
        raise UsageError(f"{path!r} is no file name.", where="--record")
    return whole.with_name(stem), suffix


def _last_number(stem: Path, suffix: str) -> int:
    """The highest number files of this name have already."""
    pattern = re.compile(re.escape(stem.name) + r"-(\d{4,})" + re.escape(suffix))
    try:
        names = [entry.name for entry in stem.parent.iterdir()]
    except OSError:
        return 0
    return max((int(match[1]) for name in names if (match := pattern.fullmatch(name))), default=0)
