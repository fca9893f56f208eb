"""A walk's record on disk: JSON lines, the setup first, then one event a line, each written out before it counts."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from types import TracebackType
from typing import Self

import msgspec

from linkcheck.errors import DataError
from linkcheck.walk.messages import Event, Setup, read_event

__all__ = ["NoRecord", "Record", "read_record", "write_record"]

LARGEST_FILE = 10_000_000


def read_record(path: str, remark: Callable[[str], None]) -> tuple[Setup, list[Event]]:
    """The setup and the events of a record. A last line that was cut off is left out, and `remark` is told so.

    Raises:
        DataError: it cannot be read, or a line is no event.

    """
    try:
        file = Path(path)
        if file.stat().st_size > LARGEST_FILE:
            raise DataError("This file is far too large for the record of a walk.", where=path)
        text = file.read_text(encoding="utf-8")
    except OSError as error:
        raise DataError(f"This record cannot be read: {error.strerror or error}.", where=path) from error
    except UnicodeDecodeError as error:
        raise DataError("This is no record of a walk: it is not text in UTF-8.", where=path) from error
    events: list[Event] = []
    lines = text.splitlines(keepends=True)
    for number, line in enumerate(lines, 1):
        if not line.strip():
            continue
        try:
            events.append(read_event(line))
        except msgspec.MsgspecError as error:
            if number == len(lines) and not line.endswith("\n") and events:
                remark(f"{path}:{number}: the last line was cut off and is left out.")
                break
            raise DataError(f"This line is no event of a walk: {error}.", where=f"{path}:{number}") from error
    if not events or not isinstance(events[0], Setup):
        raise DataError("A record of a walk begins with its setup.", where=path)
    if any(isinstance(event, Setup) for event in events[1:]):
        raise DataError("A record of a walk has one setup only.", where=path)
    return events[0], events[1:]


def write_record(path: str, setup: Setup, events: Sequence[Event]) -> None:
    """A whole record.

    Raises:
        DataError: it cannot be written.

    """
    with Record(path, setup, events):
        pass


class Record:
    """A record that grows.

    Args:
        path: the file.
        setup: its first line.
        events: those that have happened; None where the file has them already, and only grows.

    Raises:
        DataError: it cannot be written.

    """

    def __init__(self, path: str, setup: Setup, events: Sequence[Event] | None) -> None:
        self.path = path
        try:
            if events is None:
                _cut_to_whole_lines(Path(path))
            self._file = Path(path).open("ab" if events is None else "wb")  # noqa: SIM115  closed by __exit__
        except OSError as error:
            raise DataError(f"This record cannot be written: {error.strerror or error}.", where=path) from error
        for event in [] if events is None else [setup, *events]:
            self.add(event)

    def add(self, event: Event) -> None:
        """One more event, on the disk when this returns.

        Raises:
            DataError: it cannot be written.

        """
        try:
            self._file.write(msgspec.json.encode(event) + b"\n")
            self._file.flush()
        except OSError as error:
            raise DataError(f"This record cannot be written: {error.strerror or error}.", where=self.path) from error

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._file.close()


class NoRecord:
    """Keeps nothing."""

    def add(self, event: Event) -> None:
        """Nothing."""

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        """Nothing."""


def _cut_to_whole_lines(path: Path) -> None:
    """A line that was cut off is dropped, or the next event would be glued to it."""
    data = path.read_bytes()
    whole = data[: data.rfind(b"\n") + 1]
    tail = data[len(whole) :]
    if tail:
        try:
            read_event(tail.decode())
            whole = data + b"\n"
        except (msgspec.MsgspecError, UnicodeDecodeError):
            pass
        path.write_bytes(whole)
