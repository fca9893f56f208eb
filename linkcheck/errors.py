"""The one family of errors that reaches a user.

Every error is a sentence: what is wrong, where (file, line, key), and what to do about it. The command line prints
it on standard error and leaves with ``exit_code``; no traceback follows. Anything else that escapes is a defect.
"""

from __future__ import annotations

__all__ = ["DataError", "LinkcheckError", "UsageError"]


class LinkcheckError(Exception):
    """A sentence for the reader.

    Args:
        what: what is wrong, in one sentence without the place.
        where: the place: file, line, key, option. Empty where there is none.
        todo: what the reader can do about it. Empty where nothing helps.

    """

    exit_code = 2

    def __init__(self, what: str, *, where: str = "", todo: str = "") -> None:
        self.what = what
        self.where = where
        self.todo = todo
        super().__init__(self.sentence)

    @property
    def sentence(self) -> str:
        """Place, fault and remedy in one line."""
        text = f"{self.where}: {self.what}" if self.where else self.what
        return f"{text} {self.todo}" if self.todo else text


class UsageError(LinkcheckError):
    """The words of a command or a request do not fit together."""


class DataError(LinkcheckError):
    """A file, a line or a reading cannot be used as it is."""
