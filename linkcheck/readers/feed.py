"""`Feed`: lines handed to a foreign reader one at a time, each of them answered for.

python-can's text readers pull lines and yield messages, never more than one a line. So the line handed out last is
the one a message came from; a line that gave none by the time the next is asked for was passed over in silence; and a
line the reader dies on is known, too.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator

import can

from linkcheck.readers.account import Account
from linkcheck.readers.lines import blocks
from linkcheck.readers.source import Source

__all__ = ["Feed", "describe"]


def describe(error: BaseException) -> str:
    """An exception of foreign code in a few words."""
    words = " ".join(str(error).split())[:200]
    return f"{words} ({type(error).__name__})" if words else type(error).__name__


class Feed:
    """The lines of a source as a foreign reader sees them.

    Args:
        source, account: where lines come from and where they are counted.
        restart: a line that brings the reader past its header; handed out where needed, not counted.
        header: lines the reader must see before that; None where it skips its first line unseen.
        remark: lines the reader need not see. unread: what to say of a line the reader passed over (see `answer`).

    Attributes:
        line: the line handed out last. unfinished: it has no ending; the file stops there.

    """

    def __init__(
        self,
        source: Source,
        account: Account,
        *,
        restart: str,
        header: re.Pattern[str] | None,
        remark: re.Pattern[str],
        unread: Callable[[str], str | None],
    ) -> None:
        self._account, self._restart, self._header = account, restart, header
        self._remark, self._unread = remark, unread
        self._lines = self._numbered(source)
        self._restart_due = header is None
        self._held: str | None = None
        self._open = False
        self.line = ""
        self.unfinished = False

    def _numbered(self, source: Source) -> Iterator[str]:
        for block in blocks(source.stream):
            self._account.tick()
            for i in range(len(block)):
                self._account.lines += 1
                self.unfinished = block.open_end and i == len(block) - 1
                line = block.line(i).decode("utf-8", "replace").strip()
                if self._remark.fullmatch(line):
                    self._account.comments += 1
                else:
                    yield line

    def __iter__(self) -> Iterator[str]:
        return self

    def __next__(self) -> str:
        self._settle()
        if self._restart_due:
            self._restart_due = False
            return self._restart
        line = self._held or next(self._lines)
        self._held = None
        if self._header and not self._header.match(line):
            self._header, self._held = None, line
            return self._restart
        self.line, self._open = line, True
        return line

    def _settle(self) -> None:
        if self._open:
            self.answer(self._unread(self.line))

    def answer(self, reason: str | None) -> None:
        """The last line gave a frame (empty), is a remark (None), or is skipped for a reason."""
        self._open = False
        if reason is None:
            self._account.comments += 1
        elif reason:
            self._account.skip(reason)

    def messages(self, reader: Iterable[can.Message]) -> Iterator[can.Message]:
        """Messages of the reader that was given this feed; a line it dies on is skipped."""
        messages = iter(reader)
        while True:
            try:
                message = next(messages)
            except StopIteration:
                self._settle()
                return
            except Exception as error:  # noqa: BLE001  # the edge to foreign code
                self.answer(f"cannot be read: {describe(error)}")
                self._header, self._restart_due = None, True
                messages = iter(reader)
                continue
            yield message

    def close(self) -> None:
        """Nothing: the source is closed by its owner."""
