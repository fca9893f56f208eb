"""What SQLite says when the world is unkind, a sentence each: full disk, read-only folder, damaged file, a wait."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from linkcheck.errors import DataError

__all__ = ["DAMAGED", "DamagedError", "MovedOnError", "plainly"]

FULL = frozenset({sqlite3.SQLITE_FULL})
READ_ONLY = frozenset({sqlite3.SQLITE_READONLY, sqlite3.SQLITE_CANTOPEN, sqlite3.SQLITE_PERM})
DAMAGED = frozenset({sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB})
BUSY = frozenset({sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED})


class DamagedError(DataError):
    """The file of the jobs cannot be read as one; a rescue may help."""

    def __init__(self, path: Path, why: str) -> None:
        super().__init__(
            f"The file of the jobs is damaged ({why}).",
            where=str(path),
            todo="Run `linkcheck jobs rescue`: it saves what can be read and keeps the damaged file aside.",
        )


class MovedOnError(DataError):
    """A walk was continued by another program since it was last looked at; opening the job again helps."""

    def __init__(self, job: int) -> None:
        super().__init__(
            "This walk was continued in another window, so the entry was not saved.",
            where=f"job {job}",
            todo="Open the job again and enter it there.",
        )


@contextmanager
def plainly(path: Path) -> Iterator[None]:
    """Turn SQLite's errors into ours.

    Raises:
        DamagedError: the file is damaged.
        DataError: anything else SQLite cannot do here.

    """
    try:
        yield
    except sqlite3.Error as error:
        raise _plain(error, path) from error


def _plain(error: sqlite3.Error, path: Path) -> DataError:
    code = getattr(error, "sqlite_errorcode", 0) & 0xFF  # the low byte is the primary code (sqlite.org/rescode.html)
    if code in DAMAGED:
        return DamagedError(path, str(error))
    if code in FULL:
        what, todo = (
            "The disk is full: this entry was not saved; everything before it was.",
            "Make room and enter it again.",
        )
    elif code in READ_ONLY:
        what, todo = (
            "The jobs cannot be written here: the file or its folder is read-only or cannot be opened.",
            "Allow writing, or name another folder in LINKCHECK_DATA.",
        )
    elif code in BUSY:
        what, todo = "Another program holds the file of the jobs.", "Close it, or wait and enter this again."
    else:
        what, todo = f"The file of the jobs cannot be used: {error}.", ""
    return DataError(what, where=str(path), todo=todo)
