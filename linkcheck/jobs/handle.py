"""A job that is open: what is known of it, and the one way to add to it. Fits `Session` as the walk's record."""

from __future__ import annotations

from typing import TYPE_CHECKING

from linkcheck.jobs.events import Entry, Intake, JobEvent, WalkEvent
from linkcheck.jobs.record import JobRecord
from linkcheck.walk.messages import Setup

if TYPE_CHECKING:
    from linkcheck.jobs.store import Store

__all__ = ["JobHandle"]


class JobHandle:
    """A job that is open.

    Attributes:
        id: the job's number.

    """

    def __init__(self, store: Store, job: int) -> None:
        self.id = job
        self._store = store
        self._record = store.record(job)

    @property
    def record(self) -> JobRecord:
        """The job as this handle knows it: all that it added, and what others added before that."""
        return self._record

    @property
    def entries(self) -> tuple[Entry, ...]:
        """All entries."""
        return self._record.entries

    @property
    def events(self) -> tuple[JobEvent, ...]:
        """What happened, without numbers and times."""
        return tuple(entry.event for entry in self.entries)

    @property
    def intake(self) -> Intake:
        """What the job is about."""
        return self._record.intake

    @property
    def setup(self) -> Setup | None:
        """What the walk that goes on was started with; None before `begin_walk`."""
        return self._record.walk.setup if self._record.walk else None

    @property
    def walk_events(self) -> tuple[WalkEvent, ...]:
        """The walk's events that stand, corrections applied: what `Session` resumes from."""
        return self._record.walk.events if self._record.walk else ()

    def begin_walk(self, setup: Setup | None = None) -> Setup:
        """Begin a walk; an earlier one stays in the record.

        Raises:
            DataError: it cannot be written.

        """
        setup = setup or self.intake.setup()
        self.add(setup)
        return setup

    def add(self, event: JobEvent, note: str = "") -> Entry:
        """Add one entry; it is on the disk when this returns.

        Raises:
            DataError: it cannot be written, or the walk went on elsewhere; nothing was added.
            UsageError: it has no place in this job; nothing was added.

        """
        new = self._store.append(self.id, [(event, note)], len(self.entries))
        self._record = JobRecord(self.id, self._record.uid, (*self.entries, *new))
        return new[-1]

    def refresh(self) -> tuple[Entry, ...]:
        """Take in what other programs have added; those entries."""
        new = self._store.entries(self.id, len(self.entries))
        if new:
            self._record = JobRecord(self.id, self._record.uid, (*self.entries, *new))
        return new
