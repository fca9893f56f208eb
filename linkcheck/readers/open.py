"""The door: any capture file, or standard input, as a `Capture`."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from linkcheck.errors import UsageError
from linkcheck.frames import FrameBatch
from linkcheck.readers.byte_log import NotFramesError
from linkcheck.readers.candump import CandumpLog, open_candump
from linkcheck.readers.capture import Capture
from linkcheck.readers.console import ConsoleCapture
from linkcheck.readers.python_can import ForeignCapture
from linkcheck.readers.sniff import FORMATS, sniff
from linkcheck.readers.source import HEAD_BYTES, Source, open_source
from linkcheck.readers.text import TextCapture
from linkcheck.readers.trc import TrcCapture

__all__ = ["open_capture"]

_TEXT: dict[str, Callable[..., Capture]] = {"candump": open_candump, "console": ConsoleCapture, "trc": TrcCapture}
_NEED_PLAIN = ("sqlite", "mf4")  # their readers want the file itself


def open_capture(path: str, *, format: str | None = None) -> Capture:  # noqa: A002  # the word the user knows
    """Open a capture, whatever its format and compression.

    Args:
        path: a file, or "-" for standard input.
        format: a key of `FORMATS` where the content is not to be asked.

    Raises:
        DataError: it cannot be opened, or holds nothing that can be read.
        NotFramesError: it is a byte log of a J1708 link, which has no frames.
        UsageError: no such format.

    """
    if format is not None and format not in FORMATS:
        raise UsageError(f"There is no capture format called {format!r}.", todo=f"Known are: {', '.join(FORMATS)}.")
    source = open_source(path)
    try:
        name = format or sniff(source.head, path, whole=len(source.head) < HEAD_BYTES)
        return _OpenCapture(source, _reader(name, source))
    except BaseException as error:
        if not (isinstance(error, NotFramesError) and path == "-"):  # standard input cannot be opened again
            source.close()
        raise


def _reader(name: str, source: Source) -> Capture:
    if name == "j1708":
        raise NotFramesError(source)
    if name in _TEXT:
        return _TEXT[name](source.path, source.stream)
    return ForeignCapture(source.path, name, FORMATS[name], source.on_disk(plain=name in _NEED_PLAIN))


class _OpenCapture:
    """A reader together with the file it reads from."""

    def __init__(self, source: Source, reader: Capture) -> None:
        self.path, self.tally = source.path, reader.tally
        self.format = f"{reader.format}, {source.compression}" if source.compression else reader.format
        self._source, self._reader = source, reader
        self._by_source = isinstance(reader, (TextCapture, CandumpLog))

    @property
    def timeless(self) -> bool:
        """Whether the recording has no times; `time_ns` then only counts frames."""
        return bool(getattr(self._reader, "timeless", False))

    @property
    def progress(self) -> float | None:
        """Share of the file read so far."""
        return self._source.progress if self._by_source else self._reader.progress

    def batches(self) -> Iterator[FrameBatch]:
        """Batches in the order recorded. May be called once."""
        notes = self.tally.notes
        try:
            yield from self._reader.batches()
        finally:
            notes += [note for note in self._source.notes if note not in notes]

    def close(self) -> None:
        """Release everything."""
        self._reader.close()
        self._source.close()
