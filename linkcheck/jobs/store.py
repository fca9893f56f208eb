"""The store of jobs: one SQLite file, entries added and never rewritten, each on the disk before `add` returns.

Write-ahead log with full synchronisation, so that nothing acknowledged is lost to a kill or a power cut, and several
programs can use the file at once. A job is worked on through its `JobHandle`, which a walk's session takes as its
record. Sentences for what can go wrong are in `failures`.
"""

from __future__ import annotations

import os
import sqlite3
import threading
import uuid
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from types import TracebackType
from typing import Self

import msgspec

from linkcheck.errors import DataError, UsageError
from linkcheck.jobs.events import (
    Corrected,
    Deleted,
    Entry,
    Intake,
    JobEvent,
    Undeleted,
    WalkEvent,
    kind_of,
    read_body,
    write_body,
)
from linkcheck.jobs.failures import DamagedError, MovedOnError, plainly
from linkcheck.jobs.handle import JobHandle
from linkcheck.jobs.migrations import migrate
from linkcheck.jobs.record import JobRecord, refusal
from linkcheck.jobs.summary import JobSummary, plain, summary_of_job, words_of

__all__ = ["Store", "data_path", "open_store"]

BUSY_MS = 10_000  # how long to wait for another program's write
FILE = "jobs.db"


def data_path() -> Path:
    """Where the jobs lie: LINKCHECK_DATA, or the user's data folder."""
    from platformdirs import user_data_path  # noqa: PLC0415  not needed where a path is given

    folder = os.environ.get("LINKCHECK_DATA")
    return (Path(folder) if folder else user_data_path("linkcheck", appauthor=False)) / FILE


def open_store(
    path: Path | str | None = None, *, read_only: bool = False, clock: Callable[[], datetime] | None = None
) -> Store:
    """The store in a file, made if it is not there.

    Args:
        path: of the file; None for the user's own.
        read_only: only to look; works in a folder that cannot be written.
        clock: gives the time in UTC, for tests.

    Raises:
        DataError: it cannot be opened, in one sentence.

    """
    where = Path(path) if path is not None else data_path()
    if read_only and where.exists() and not os.access(where.parent, os.W_OK):
        return Store(where, clock or _now, read_only=True)
    return Store(where, clock or _now)


def _now() -> datetime:
    return datetime.now(UTC)


class Store:
    """Jobs in a file. May be used from several threads.

    Args:
        path: of the file.
        clock: gives the time in UTC.
        read_only: the folder cannot be written.

    Raises:
        DataError: it cannot be opened.

    """

    def __init__(self, path: Path, clock: Callable[[], datetime], *, read_only: bool = False) -> None:
        self.path = path
        self._clock = clock
        self._lock = threading.RLock()
        _make_folder(path.parent)
        address = path.absolute().as_uri() + (_read_only_mode(path) if read_only else "")
        with plainly(path):
            self._db = sqlite3.connect(
                address, uri=True, timeout=BUSY_MS / 1000, isolation_level=None, check_same_thread=False
            )
            try:
                self._check()
                if not read_only:
                    self._prepare()
            except BaseException:
                self._db.close()
                raise

    def _check(self) -> None:
        (state,) = self._db.execute("PRAGMA quick_check(1)").fetchone()
        if state != "ok":
            raise DamagedError(self.path, str(state).splitlines()[-1])

    def _prepare(self) -> None:
        self._db.execute("PRAGMA foreign_keys = ON")
        self._db.execute("PRAGMA journal_mode = WAL")
        self._db.execute("PRAGMA synchronous = FULL")
        if migrate(self._db, self.path):
            with self._writing():
                for (job,) in self._db.execute("SELECT id FROM jobs").fetchall():
                    self._summarise(self._record(job))

    def close(self) -> None:
        """Close the file. Nothing is waiting to be written."""
        self._db.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    # Jobs --------------------------------------------------------------------------------------------------------

    def create(self, intake: Intake) -> int:
        """A new job; its number.

        Raises:
            DataError: it cannot be written.

        """
        return self.insert(uuid.uuid4().hex, [Entry(1, self._clock(), intake)])

    def insert(self, uid: str, entries: Sequence[Entry]) -> int:
        """A whole job from elsewhere; its number. All of it is written, or nothing.

        Raises:
            DataError: it is here already, or cannot be written.

        """
        with self._writing():
            if self._id_of(uid) is not None:
                raise DataError("This job is here already.", where=uid)
            job = self._db.execute("INSERT INTO jobs (uid) VALUES (?)", (uid,)).lastrowid or 0
            for entry in entries:
                self._insert(job, entry)
            self._summarise(JobRecord(job, uid, tuple(entries)))
        return job

    def extend(self, job: int, entries: Sequence[Entry]) -> None:
        """Entries made elsewhere at the end of a job, all or none.

        Raises:
            DataError: they cannot be written.

        """
        with self._writing():
            for entry in entries:
                self._insert(job, entry)
            self._summarise(self._record(job))

    def by_uid(self, uid: str) -> JobRecord | None:
        """The job of a uid, if it is here."""
        with self._reading():
            job = self._id_of(uid)
            return None if job is None else self._record(job)

    def open(self, job: int | str) -> JobHandle:
        """A job by its number or the beginning of its uid.

        Raises:
            UsageError: there is none, or several.

        """
        return JobHandle(self, self.find(job))

    def find(self, job: int | str) -> int:
        """The number of a job, from its number or the beginning of its uid.

        Raises:
            UsageError: there is none, or several.

        """
        text = str(job).strip().lower()
        with self._reading():
            rows = self._db.execute("SELECT id FROM jobs WHERE CAST(id AS TEXT) = ?", (text,)).fetchall()
            if not rows and len(text) >= 4:
                begins = "SELECT id FROM jobs WHERE substr(uid, 1, ?) = ?"
                rows = self._db.execute(begins, (len(text), text)).fetchall()
        if len(rows) != 1:
            what = "there is no such job." if not rows else "several jobs begin like this."
            raise UsageError(what, where=str(job), todo="`linkcheck jobs list` shows them.")
        return int(rows[0][0])

    def list(self, query: str = "", *, deleted: bool = False) -> list[JobSummary]:
        """Jobs, the last changed first.

        Args:
            query: words that all have to be in unit, complaint or cause; capitals and accents do not matter.
            deleted: those that were deleted, instead of the others.

        """
        words = plain(query).split()
        where = " AND ".join(["deleted = ?", *["instr(words, ?) > 0"] * len(words)])
        with self._reading():
            rows = self._db.execute(
                f"SELECT body FROM summaries WHERE {where} ORDER BY changed_at DESC, job DESC",  # noqa: S608  no words of a user
                (int(deleted), *words),
            ).fetchall()
        return [msgspec.json.decode(body, type=JobSummary) for (body,) in rows]

    def confirmed_causes(self) -> dict[str, int]:
        """How often each fault was confirmed in the jobs that are not deleted."""
        return dict(Counter(fault for job in self.list() for fault in job.faults))

    def delete(self, job: int | str) -> None:
        """Take a job out of the list. Nothing is removed; `undelete` brings it back.

        Raises:
            UsageError: there is no such job.

        """
        self.open(job).add(Deleted())

    def undelete(self, job: int | str) -> None:
        """Bring a deleted job back.

        Raises:
            UsageError: there is no such job.

        """
        self.open(job).add(Undeleted())

    # Entries -----------------------------------------------------------------------------------------------------

    def entries(self, job: int, after: int = 0) -> tuple[Entry, ...]:
        """A job's entries after a number.

        Raises:
            DataError: one cannot be read.

        """
        with self._reading():
            rows = self._db.execute(
                "SELECT n, at, body, note FROM events WHERE job = ? AND n > ? ORDER BY n", (job, after)
            ).fetchall()
        return tuple(self._entry(job, *row) for row in rows)

    def append(self, job: int, events: Sequence[tuple[JobEvent, str]], seen: int) -> tuple[Entry, ...]:
        """Entries at the end of a job, all or none, on the disk when this returns.

        Args:
            job: its number.
            events: with their notes.
            seen: entries the caller knows of. Where others have added since, an event of the walk is refused:
                it would not mean what its author saw.

        Returns:
            all entries after `seen`, the new ones last.

        Raises:
            DataError: it cannot be written, or the walk went on elsewhere.
            UsageError: an event has no place in the job.

        """
        with self._writing():
            record = self._record(job)
            others = record.entries[seen:]
            for event, note in events:
                walked = [entry for entry in others if isinstance(entry.event, WalkEvent | Corrected)]
                if walked and isinstance(event, WalkEvent | Corrected):
                    raise MovedOnError(job)
                if why := refusal(record, event):
                    raise UsageError(why, where=f"job {job}")
                entry = Entry(len(record.entries) + 1, max(self._clock(), record.changed_at), event, note)
                self._insert(job, entry)
                record = JobRecord(job, record.uid, (*record.entries, entry))
            self._summarise(record)
        return record.entries[seen:]

    def record(self, job: int | str) -> JobRecord:
        """A whole job.

        Raises:
            UsageError: there is no such job.
            DataError: it cannot be read.

        """
        with self._reading():
            return self._record(self.find(job))

    # SQL ---------------------------------------------------------------------------------------------------------

    def _record(self, job: int) -> JobRecord:
        (uid,) = self._db.execute("SELECT uid FROM jobs WHERE id = ?", (job,)).fetchone()
        return JobRecord(job, uid, self.entries(job))

    def _id_of(self, uid: str) -> int | None:
        row = self._db.execute("SELECT id FROM jobs WHERE uid = ?", (uid,)).fetchone()
        return None if row is None else int(row[0])

    def _entry(self, job: int, n: int, at: str, body: str, note: str) -> Entry:
        try:
            return Entry(n, datetime.fromisoformat(at), read_body(body), note)
        except (msgspec.MsgspecError, ValueError) as error:
            raise DataError(
                f"Entry {n} cannot be read: {error}.",
                where=f"{self.path}, job {job}",
                todo="Run `linkcheck jobs rescue`.",
            ) from error

    def _insert(self, job: int, entry: Entry) -> None:
        self._db.execute(
            "INSERT INTO events (job, n, at, kind, body, note) VALUES (?, ?, ?, ?, ?, ?)",
            (job, entry.n, entry.at.isoformat(), kind_of(entry.event), write_body(entry.event), entry.note),
        )

    def _summarise(self, record: JobRecord) -> None:
        body = msgspec.json.encode(summary_of_job(record)).decode()
        self._db.execute(
            "INSERT OR REPLACE INTO summaries (job, body, words, changed_at, deleted) VALUES (?, ?, ?, ?, ?)",
            (record.id, body, words_of(record), record.changed_at.isoformat(), int(record.deleted)),
        )

    @contextmanager
    def _writing(self) -> Iterator[None]:
        """One transaction, for this program and among all of them."""
        with self._lock, plainly(self.path):
            self._db.execute("BEGIN IMMEDIATE")
            try:
                yield
                self._db.execute("COMMIT")
            except BaseException:
                if self._db.in_transaction:  # SQLite itself may have rolled back already
                    self._db.execute("ROLLBACK")
                raise

    @contextmanager
    def _reading(self) -> Iterator[None]:
        with self._lock, plainly(self.path):
            yield


def _make_folder(folder: Path) -> None:
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise DataError(
            f"The folder of the jobs cannot be made: {error.strerror or error}.",
            where=str(folder),
            todo="Name another folder in LINKCHECK_DATA.",
        ) from error


def _read_only_mode(path: Path) -> str:
    """How to open a file whose folder cannot be written: as it stands, unless its log holds entries of its own."""
    log = path.with_name(path.name + "-wal")
    return "?mode=ro" if log.exists() and log.stat().st_size else "?immutable=1"
