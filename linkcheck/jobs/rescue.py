"""Saves what can be read of a damaged file of jobs into a new one, and keeps the damaged one aside.

Rows come from `pages`, so that neither a broken header nor a broken inner page stands in the way. An entry that cannot
be read, with later ones that can, leaves a `Lost` in its place, so that the job says so itself.
"""

from __future__ import annotations

import uuid
from collections import defaultdict
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

import msgspec

from linkcheck.errors import DataError, UsageError
from linkcheck.jobs.events import Entry, Lost, read_body
from linkcheck.jobs.pages import Row, rows_of
from linkcheck.jobs.record import JobRecord
from linkcheck.jobs.store import open_store

__all__ = ["Rescued", "rescue", "salvage"]

MOST_ENTRIES = 1_000_000  # a job has some dozens; a number beyond this is damage


@dataclass(frozen=True)
class Rescued:
    """What a rescue saved.

    Attributes:
        jobs, entries: that were read.
        lost: entries known to be missing.
        kept: where the damaged file is now.

    """

    jobs: int
    entries: int
    lost: int
    kept: Path


def rescue(path: Path, clock: Callable[[], datetime] = lambda: datetime.now(UTC)) -> Rescued:
    """Put a new file with all that can be read in the place of a damaged one.

    Args:
        path: the damaged file.
        clock: gives the time, for the name of what is kept.

    Raises:
        DataError: the file cannot be read at all, has no job left in it, or the folder cannot be written.
        UsageError: nothing is wrong with the file.

    """
    if _sound(path):
        raise UsageError("This file is sound: there is nothing to rescue.", where=str(path))
    records = salvage(path)
    if not records:
        raise DataError("There is no job left to be read in this file.", where=str(path), todo="It was left as it is.")
    mark = f"{clock():%Y%m%dT%H%M%S}"
    fresh = path.with_name(f"{path.stem}.rescued-{mark}{path.suffix}")
    kept = path.with_name(f"{path.stem}.damaged-{mark}{path.suffix}")
    with open_store(fresh) as store:
        for record in records:
            store.insert(record.uid, record.entries)
    try:
        for tail in ("-wal", "-shm", ""):
            part = path.with_name(path.name + tail)
            if part.exists():
                part.rename(kept.with_name(kept.name + tail))
        fresh.rename(path)
    except OSError as error:
        raise DataError(
            f"The damaged file cannot be put aside: {error.strerror or error}.",
            where=str(path),
            todo=f"What was saved is in {fresh}.",
        ) from error
    entries = [entry for record in records for entry in record.entries]
    lost = sum(isinstance(entry.event, Lost) for entry in entries)
    return Rescued(len(records), len(entries) - lost, lost, kept)


def salvage(path: Path) -> list[JobRecord]:
    """The jobs that can be read in a damaged file, by their numbers.

    Raises:
        DataError: the file cannot be read at all.

    """
    names: dict[int, str] = {}
    found: dict[int, dict[int, Entry]] = defaultdict(dict)
    try:
        for row in rows_of(path):
            if (uid := _uid(row)) is not None:
                names[row.rowid] = uid
            elif (read := _entry(row)) is not None:
                job, entry = read
                found[job].setdefault(entry.n, entry)
    except OSError as error:
        raise DataError(f"This file cannot be read: {error.strerror or error}.", where=str(path)) from error
    return [JobRecord(job, names.get(job) or uuid.uuid4().hex, _filled(found[job])) for job in sorted(found)]


def _sound(path: Path) -> bool:
    """SQLite finds no fault, and every entry can be read."""
    if not path.exists():
        return False
    try:
        with open_store(path) as store:
            for deleted in (False, True):
                for job in store.list(deleted=deleted):
                    store.record(job.id)
    except DataError:
        return False
    return True


def _uid(row: Row) -> str | None:
    """The uid of a row of `jobs`: a number that is the row's own, and a text."""
    match row.values:
        case (None, str(uid)) if len(uid) >= 8 and uid.isalnum():
            return uid
    return None


def _entry(row: Row) -> tuple[int, Entry] | None:
    """A row of `events` of any version: job, n, at, body, and from version 2 on kind and note."""
    match row.values:
        case (int(job), int(n), str(at), str(body), *rest) if 0 < n <= MOST_ENTRIES and len(rest) in (0, 2):
            try:
                return job, Entry(n, datetime.fromisoformat(at), read_body(body), str(rest[1]) if rest else "")
            except (msgspec.MsgspecError, ValueError):
                return None
    return None


def _filled(entries: Mapping[int, Entry]) -> tuple[Entry, ...]:
    """Entries 1 to the last, each missing one as `Lost`, at the time of its neighbour."""
    at = entries[min(entries)].at
    found = []
    for n in range(1, max(entries) + 1):
        entry = entries.get(n) or Entry(n, at, Lost())
        at = entry.at
        found.append(entry)
    return tuple(found)
