"""Formats that python-can reads (ASC, BLF, CSV, MF4) and its SQLite tables, through a process of their own.

Foreign readers raise anything, stop early in silence, or go round for ever on a damaged file. So they run in a child
process (`foreign`), which keeps the account line by line or object by object and sends frames as records; here they
become batches, and a child that makes no progress is ended. Whatever goes wrong after the first frame is a note;
before it, an error.
"""

from __future__ import annotations

import json
import struct
import subprocess
import sys
from collections.abc import Iterator
from typing import IO, Any

from linkcheck.errors import DataError
from linkcheck.frames import FrameBatch
from linkcheck.frames.records import batch_of
from linkcheck.readers.ahead import ReadAhead
from linkcheck.readers.capture import Skip, Tally

__all__ = ["FRAMES", "HEADER", "NEWS", "PATIENCE_S", "ForeignCapture"]

# What the child sends: a kind and a size, then JSON (`NEWS`: counts so far, and what is new) or records (`FRAMES`).
HEADER = struct.Struct("<cI")
NEWS, FRAMES = b"N", b"F"
PATIENCE_S = 30.0  # without a word from the child; an MF4 file is loaded whole before its first frame
_AHEAD = 4
# Isolated, with this program's own module path: nothing is imported from the folder the user happens to be in.
_CHILD = (
    "import json, sys; sys.path[:] = json.loads(sys.argv[1]); "
    "from linkcheck.readers.foreign import main; main(*sys.argv[2:])"
)


class ForeignCapture:
    """A capture read by a child process.

    Args:
        path: as the user gave it. kind: a name of `sniff.FORMATS`. words: the same for the reader.
        file: where the child finds the content. patience_s: time without progress after which the child is ended.

    """

    timeless = False

    def __init__(self, path: str, kind: str, words: str, file: str, *, patience_s: float = PATIENCE_S) -> None:
        self.path, self.format, self.tally = path, words, Tally()
        self.progress: float | None = 0.0
        self._patience_s = patience_s
        self._channels: list[str] = []
        self._error = ""
        self._ended = False
        self._child = subprocess.Popen(  # noqa: S603  # our own module
            [sys.executable, "-I", "-c", _CHILD, json.dumps(sys.path), kind, file],
            stdin=subprocess.PIPE,  # held open: its end tells the child that we are gone
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
        )
        self._parts = ReadAhead(_parts(self._child.stdout), _AHEAD)

    def batches(self) -> Iterator[FrameBatch]:
        """Batches in the order recorded. May be called once.

        Raises:
            DataError: the file gave no frame and could not be read.

        """
        try:
            while part := self._parts.take(self._patience_s):
                kind, body = part
                if kind == NEWS:
                    self._hear(json.loads(body))
                else:
                    batch = batch_of(body, tuple(self._channels))
                    self.tally.frames += len(batch)
                    yield batch
        except TimeoutError:
            self._error = f"the reader made no progress for {self._patience_s:g} s and was ended"
        self.close()
        self._account()

    def _account(self) -> None:
        """Say how it ended."""
        tally = self.tally
        if not self._ended:
            self._error = self._error or f"the reader broke off (code {self._child.returncode})"
            tally.lines = tally.frames + tally.skipped + tally.comments  # it may have met lines it did not answer for
        if self._error and not tally.frames:
            raise DataError(f"This looks like {self.format}, but it cannot be read: {self._error}.", where=self.path)
        if self._error:
            tally.notes.append(f"reading stopped early: {self._error}; what came before is used")

    def _hear(self, news: dict[str, Any]) -> None:
        tally = self.tally
        tally.lines, tally.comments, tally.skipped = news["lines"], news["comments"], news["skipped"]
        tally.skipped_lines += [Skip(*skip) for skip in news["skips"]]
        tally.notes += news["notes"]
        self._channels += news["channels"]
        self.progress = news["progress"]
        self._error = news["error"]
        self._ended = news["ended"]

    def close(self) -> None:
        """End the child."""
        self._child.kill()
        self._child.wait()
        self._parts.stop()
        for pipe in (self._child.stdin, self._child.stdout):
            if pipe is not None:
                pipe.close()


def _parts(pipe: IO[bytes] | None) -> Iterator[tuple[bytes, bytes]]:
    """Messages of the child, until it ends or breaks off."""
    while pipe and len(head := pipe.read(HEADER.size)) == HEADER.size:
        kind, size = HEADER.unpack(head)
        body = pipe.read(size)
        if len(body) < size:
            return
        yield kind, body
