"""Brings the store's file to the current version, one step after the other, each in one transaction.

Before a file of an older version is touched, a copy of it is laid beside it.
"""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path

from linkcheck.errors import DataError
from linkcheck.jobs.schema import APPLICATION_ID, TABLES_1, TABLES_2, VERSION

__all__ = ["migrate", "version_of"]

STEPS = {1: TABLES_1, 2: TABLES_2}  # version to what makes it from the one before


def version_of(connection: sqlite3.Connection, path: Path) -> int:
    """The version of a file; 0 for an empty one.

    Raises:
        DataError: it is no file of ours, or of a newer program.

    """
    (version,) = connection.execute("PRAGMA user_version").fetchone()
    (application,) = connection.execute("PRAGMA application_id").fetchone()
    (tables,) = connection.execute("SELECT COUNT(*) FROM sqlite_schema").fetchone()
    if tables and application != APPLICATION_ID:
        raise DataError("This database is no file of jobs.", where=str(path), todo="Name another file or folder.")
    if version > VERSION:
        raise DataError(
            f"A newer linkcheck wrote this file (its version {version}; this program knows {VERSION}).",
            where=str(path),
            todo="Update linkcheck; the file was left as it is.",
        )
    return int(version)


def migrate(connection: sqlite3.Connection, path: Path) -> bool:
    """Bring a file to the current version; True where there was something to do.

    Raises:
        DataError: as `version_of`.
        sqlite3.Error: it cannot be written; the file is as it was.

    """
    if version_of(connection, path) == VERSION:
        return False
    connection.execute("BEGIN IMMEDIATE")
    try:
        version = version_of(connection, path)  # another program may have done it while we waited
        if version:
            _copy_aside(path, version)
        for step in range(version + 1, VERSION + 1):
            for statement in _statements(STEPS[step]):
                connection.execute(statement)
        connection.execute(f"PRAGMA application_id = {APPLICATION_ID}")
        connection.execute(f"PRAGMA user_version = {VERSION}")
        connection.execute("COMMIT")
    except BaseException:
        if connection.in_transaction:
            connection.execute("ROLLBACK")
        raise
    return version < VERSION


def _copy_aside(path: Path, version: int) -> None:
    """`jobs.db` to `jobs.version-1.db`, whole, what is still in the log included."""
    aside = path.with_name(f"{path.stem}.version-{version}{path.suffix}")
    if not aside.exists():
        source = sqlite3.connect(f"{path.absolute().as_uri()}?mode=ro", uri=True)
        with closing(source), closing(sqlite3.connect(aside)) as copy:
            source.backup(copy)


def _statements(script: str) -> list[str]:
    """The statements of a script; unlike `executescript` they can run inside one transaction."""
    found, part = [], ""
    for line in script.strip().splitlines():
        part += line + "\n"
        if sqlite3.complete_statement(part):
            found.append(part)
            part = ""
    return found
