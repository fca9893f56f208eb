"""`linkcheck listen --j1708 PORT`: a live J1708 link through a serial RS-485 adapter. Listens; never sends.

While it runs, one line on standard error says what is heard; at the end (ctrl+c, or the time asked for) comes the page
of `replay`. A recording is the byte log that `replay` reads, flushed with every message.
"""

from __future__ import annotations

import contextlib
import sys
import time
from collections.abc import Iterable, Iterator
from typing import TextIO

from linkcheck.cli.j1708_replay import show
from linkcheck.cli.output import Progress, say
from linkcheck.errors import DataError
from linkcheck.j1708.link import LinkAnalysis
from linkcheck.live.j1708_port import J1708Port
from linkcheck.readers.byte_log import HEADER, byte_line

__all__ = ["listen_link"]


def listen_link(
    path: str,
    *,
    seconds: float | None = None,
    record: str | None = None,
    as_json: bool = False,
    strict: bool = False,
    expected: Iterable[int] = (),
) -> int:
    """Listen on a port and print what was heard.

    Args:
        path: the serial port.
        seconds: how long; None until ctrl+c or the port is gone.
        record: a file for the bytes; it must not exist yet.
        as_json: print JSON instead of the page.
        strict: leave with exit code 1 when something is wrong.
        expected: MIDs that should be on the link.

    Raises:
        DataError: the port or the recording cannot be opened.

    """
    analysis = LinkAnalysis(expected)
    notes: list[str] = []
    with J1708Port(path) as port, _recording(record) as log:
        try:
            _listen(port, analysis, log, seconds)
        except KeyboardInterrupt:
            pass  # the usual way to end
        except DataError as error:
            notes.append(f"listening ended early: {error.sentence}")
            say(error.sentence)
    analysis.finish()
    source = {"path": path, "format": "live J1708 link", "recorded": record, "notes": notes}
    return show(analysis.result(source, partial=bool(notes)), as_json=as_json, every=False, strict=strict)


def _listen(port: J1708Port, analysis: LinkAnalysis, log: TextIO | None, seconds: float | None) -> None:
    progress = Progress(f"listening on {port.path}, ctrl+c ends", "messages")
    until = None if seconds is None else time.monotonic() + seconds
    try:
        while until is None or time.monotonic() < until:
            end_ns, data = port.read()
            if data:
                analysis.feed(end_ns, data)
                if log:
                    log.write(byte_line(end_ns, data))
                    log.flush()
            else:
                analysis.quiet(end_ns)
            progress.update(None, analysis.messages)
    finally:
        progress.clear()


@contextlib.contextmanager
def _recording(path: str | None) -> Iterator[TextIO | None]:
    if path is None:
        yield None
        return
    try:
        file = sys.stdout if path == "-" else open(path, "x", encoding="ascii")  # noqa: SIM115, PTH123  closed below
    except OSError as error:
        todo = "Give another name." if isinstance(error, FileExistsError) else ""
        raise DataError(
            f"The recording cannot be written: {error.strerror or error}.", where=path, todo=todo
        ) from error
    try:
        file.write(HEADER)
        yield file
    finally:
        if file is not sys.stdout:
            file.close()
