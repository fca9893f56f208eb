"""The child process that reads foreign formats.

It is started by `python_can` with a kind, a key of `foreign_formats.DRIVERS`, and a file, and answers on standard
output in the messages of `python_can`. Whatever a foreign reader raises ends up as one sentence in the account. It
leaves when its standard input ends, so it never outlives the program that started it, not even inside a reader that
goes round for ever.
"""

from __future__ import annotations

import logging
import os
import sys
import threading

from linkcheck.errors import LinkcheckError
from linkcheck.readers.account import Account
from linkcheck.readers.feed import describe
from linkcheck.readers.foreign_formats import DRIVERS
from linkcheck.readers.python_can import HEADER
from linkcheck.readers.source import open_source

__all__ = ["main", "read"]

MAX_WARNINGS = 20
MEMORY_BYTES = 4 << 30  # a damaged size field must not take the machine down


def _end_with_parent() -> None:
    os.read(0, 1)
    os._exit(3)


def _limit_memory() -> None:
    try:
        import resource  # noqa: PLC0415  # not on every system

        resource.setrlimit(resource.RLIMIT_AS, (MEMORY_BYTES, MEMORY_BYTES))
    except (ImportError, ValueError, OSError):
        return


def _send(kind: bytes, body: bytes) -> None:
    sys.stdout.buffer.write(HEADER.pack(kind, len(body)) + body)
    sys.stdout.buffer.flush()


class _Warnings(logging.Handler):
    """What python-can only logs (a block it cannot unpack, a version it does not know) as notes."""

    def __init__(self, account: Account) -> None:
        super().__init__(logging.WARNING)
        self._account = account
        self._seen: set[str] = set()

    def emit(self, record: logging.LogRecord) -> None:
        sentence = f"python-can says: {record.getMessage()}"
        if sentence not in self._seen and len(self._seen) < MAX_WARNINGS:
            self._seen.add(sentence)
            self._account.notes.append(sentence)


def read(kind: str, file: str, account: Account) -> None:
    """Read one file; whatever goes wrong is in the account."""
    logger, warnings = logging.getLogger("can"), _Warnings(account)
    logger.addHandler(warnings)
    try:
        account.source = open_source(file)
        DRIVERS[kind](account.source, account)
    except LinkcheckError as error:
        account.error = error.what.rstrip(".")
    except Exception as error:  # noqa: BLE001  # the edge to foreign code
        account.error = describe(error)
    finally:
        logger.removeHandler(warnings)
    account.flush(ended=True)


def main(kind: str, file: str) -> None:
    """Read one file and send it to the parent."""
    threading.Thread(target=_end_with_parent, daemon=True).start()
    _limit_memory()
    read(kind, file, Account(_send))
