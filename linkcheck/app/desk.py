"""What lies on the desk: the store, the job that is open, and its walk. Pages call this from worker threads.

Every call blocks until what it says is on the disk, one at a time; nothing here knows a screen. The rules of a job are
the store's, those of a walk the walk's.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Sequence
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from linkcheck.errors import UsageError

if TYPE_CHECKING:
    from linkcheck.jobs.events import JobEvent
    from linkcheck.jobs.handle import JobHandle
    from linkcheck.jobs.session import Session
    from linkcheck.jobs.sheet import Sheet
    from linkcheck.jobs.store import Store
    from linkcheck.pinout import Pinout

__all__ = ["Desk"]

NO_JOB = UsageError("No job is open.", todo="Begin one, or open one from the list of jobs.")


class Desk:
    """What is being worked on.

    Args:
        path: of the store; None for the user's own.
        job_changed: told the name of the open job; called from whatever thread opened it.
        clock: of the store.

    Attributes:
        job: the one that is open.
        changes: a number that grows with everything that happens to it.

    """

    def __init__(
        self,
        path: Path | None = None,
        job_changed: Callable[[str], None] = lambda _name: None,
        clock: Callable[[], datetime] | None = None,
    ) -> None:
        self._path, self._clock = path, clock
        self._job_changed = job_changed
        self._lock = threading.RLock()
        self._store: Store | None = None
        self._session: Session | None = None
        self.job: JobHandle | None = None
        self.changes = 0

    @property
    def store(self) -> Store:
        """The store, opened when it is first needed.

        Raises:
            DataError: it cannot be opened.

        """
        with self._lock:
            if self._store is None:
                from linkcheck.jobs.store import open_store  # noqa: PLC0415  only when it is needed

                self._store = open_store(self._path, clock=self._clock)
            return self._store

    def close(self) -> None:
        """Close the store."""
        with self._lock:
            if self._store is not None:
                self._store.close()
                self._store = None

    def open_job(self, job: int) -> None:
        """Put a job on the desk.

        Raises:
            DataError, UsageError: it cannot be read.

        """
        with self._lock:
            self.job, self._session = self.store.open(job), None
            self.changes += 1
            self._job_changed(self.job.intake.unit or f"job {job}")

    def put_away(self) -> None:
        """No job is open any more."""
        with self._lock:
            self.job, self._session = None, None
            self.changes += 1
            self._job_changed("")

    def refresh(self) -> None:
        """Take in what another program has added to the open job."""
        with self._lock:
            if self.job is not None and self.job.refresh():
                self._session = None
                self.changes += 1

    @property
    def opened(self) -> JobHandle:
        """The job that is open.

        Raises:
            UsageError: none is.

        """
        if self.job is None:
            raise NO_JOB
        return self.job

    def add(self, *events: JobEvent) -> None:
        """Let something beside the walk happen to the job: a note, a photo, words of the record.

        Raises:
            DataError, UsageError: it cannot be written, or has no place.

        """
        with self._lock:
            for event in events:
                self.opened.add(event)
                self.changes += 1

    # The walk ----------------------------------------------------------------------------------------------------

    @property
    def session(self) -> Session:
        """The walk of the open job; begun if there is none yet.

        Raises:
            DataError, UsageError: it cannot be begun.

        """
        with self._lock:
            job = self.opened
            if self._session is None:
                from linkcheck.jobs.session import Session  # noqa: PLC0415  numpy

                self._session = Session(job.setup or job.begin_walk(), job.walk_events, job)
            return self._session

    @property
    def pinout(self) -> Pinout:
        """The connector of the walk."""
        return self.session.pinout

    def sheet(self) -> Sheet:
        """What the walk shows.

        Raises:
            DataError, UsageError: there is no walk to show.

        """
        from linkcheck.jobs.sheet import sheet_of  # noqa: PLC0415  numpy

        with self._lock:
            return sheet_of(self.session, frozenset(self.opened.record.cautions))

    def settle(self) -> None:
        """Work out the whole table, where the first check came from a rough one."""
        with self._lock:
            self.session.settle()

    def answer(self, text: str) -> Sheet:
        """Take a reading of the check that is asked; on the disk before it counts.

        Raises:
            DataError: it cannot be read, or not be written.

        """
        from linkcheck.walk.messages import Answer  # noqa: PLC0415

        with self._lock:
            check = self.session.check
            if check is not None:
                self._take(Answer(check.id, text))
            return self.sheet()

    def skip(self) -> Sheet:
        """Leave the check out."""
        from linkcheck.walk.messages import Skip  # noqa: PLC0415

        with self._lock:
            check = self.session.check
            if check is not None:
                self._take(Skip(check.id))
            return self.sheet()

    def repaired(self, faults: Sequence[str]) -> Sheet:
        """What was found is repaired; the same readings come again."""
        from linkcheck.walk.messages import Repaired  # noqa: PLC0415

        with self._lock:
            self._take(Repaired(list(faults)))
            return self.sheet()

    def _take(self, event: JobEvent) -> None:
        from linkcheck.jobs.failures import MovedOnError  # noqa: PLC0415

        try:
            self.session.take(event)  # type: ignore[arg-type]
        except MovedOnError:
            self.refresh()
            raise
        self.changes += 1

    def back(self) -> tuple[str, Sheet]:
        """Take the last thing back; says what it was.

        Raises:
            UsageError: there is nothing to take back.

        """
        from linkcheck.jobs.events import Withdrawn, kind_of  # noqa: PLC0415
        from linkcheck.walk.messages import Answer, Back, Repaired, Skip  # noqa: PLC0415

        with self._lock:
            last = self.opened.record.takes_back
            if last is None:
                raise UsageError("There is nothing to take back.")
            if isinstance(last.event, Answer | Skip | Repaired):
                self._take(Back())
            else:
                self.add(Withdrawn(last.n))
                self._session = None
            return kind_of(last.event), self.sheet()

    def correct(self, index: int, text: str) -> Sheet:
        """A reading of this walk was read or typed wrongly.

        Args:
            index: of the reading among all of the walk, from 0.
            text: what it should have been.

        Raises:
            DataError: the text is no answer to its check.

        """
        from linkcheck.jobs.events import Corrected  # noqa: PLC0415
        from linkcheck.walk.checks import CHECKS  # noqa: PLC0415
        from linkcheck.walk.engine import read_answer  # noqa: PLC0415
        from linkcheck.walk.messages import Answer  # noqa: PLC0415

        with self._lock:
            walk = self.opened.record.walk
            entry = walk.answers[index] if walk else None
            if entry is None or not isinstance(entry.event, Answer):
                raise UsageError("There is no such reading.")
            read_answer(CHECKS[entry.event.check], text)
            self.add(Corrected(entry.n, text))
            self._session = None
            return self.sheet()
