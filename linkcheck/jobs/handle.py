"""A job that is open: what is known of it, and the one way to add to it. Fits `Session` as the walk's record."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from linkcheck.jobs.events import Entry, Intake, JobEvent, ShopCauses, WalkEvent
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

    @property
    def causes(self) -> Mapping[str, int]:
        """The shop's confirmed causes that the walk was begun with."""
        return self._record.walk.causes if self._record.walk else {}

    def begin_walk(self, setup: Setup | None = None, causes: Mapping[str, int] | None = None) -> Setup:
        """Begin a walk; an earlier one stays in the record.

        Args:
            setup: what it is started with; by the intake where not given.
            causes: the shop's confirmed causes (`Store.confirmed_causes`) to sharpen its odds with; the session has to
                be given the same.

        Raises:
            DataError: it cannot be written.

        """
        setup = setup or self.intake.setup()
        self._append([(setup, ""), *([(ShopCauses(dict(causes)), "")] if causes else [])])
        return setup

    def add(self, event: JobEvent, note: str = "") -> Entry:
        """Add one entry; it is on the disk when this returns.

        Raises:
            DataError: it cannot be written, or the walk went on elsewhere; nothing was added.
            UsageError: it has no place in this job; nothing was added.

        """
        return self._append([(event, note)])

    def _append(self, events: Sequence[tuple[JobEvent, str]]) -> Entry:
        new = self._store.append(self.id, events, len(self.entries))
        self._record = JobRecord(self.id, self._record.uid, (*self.entries, *new))
        return new[-1]

    def refresh(self) -> tuple[Entry, ...]:
        """Take in what other programs have added; those entries."""
        new = self._store.entries(self.id, len(self.entries))
        if new:
            self._record = JobRecord(self.id, self._record.uid, (*self.entries, *new))
        return new
