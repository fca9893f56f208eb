"""A whole job as one value: its entries, and what counts of them by now. The app and the report draw from it.

Pure: entries in, a `JobRecord` out. What was taken back or corrected is left out of what counts, but every entry stays
in `entries`. References that do not fit (after a rescue) are passed over here; `refusal` is what keeps new ones out.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from functools import cached_property
from typing import TypeVar

import msgspec

from linkcheck.jobs.events import (
    CauseConfirmed,
    CautionsRead,
    Corrected,
    Deleted,
    Entry,
    FindingTaken,
    Intake,
    JobEvent,
    Note,
    Photo,
    ShopCauses,
    Technician,
    Tools,
    TrafficAttached,
    Undeleted,
    WalkEvent,
    Withdrawn,
    Worded,
)
from linkcheck.walk.messages import Answer, Back, Repaired, Setup, Skip

__all__ = ["JobRecord", "WalkPart", "refusal"]

T = TypeVar("T")

WITHDRAWABLE = (
    Corrected,
    Note,
    Photo,
    Tools,
    Technician,
    TrafficAttached,
    FindingTaken,
    CauseConfirmed,
    Worded,
)


@dataclass(frozen=True)
class WalkPart:
    """One walk of the job.

    Attributes:
        setup: it was started with.
        entries: its answers, skips and repairs that stand, corrections applied.
        causes: the shop's confirmed causes that its odds were sharpened with.

    """

    setup: Setup
    entries: tuple[Entry, ...] = ()
    causes: Mapping[str, int] = field(default_factory=dict)

    @property
    def events(self) -> tuple[WalkEvent, ...]:
        """The same as the walk's own events, to resume or replay it."""
        return tuple(entry.event for entry in self.entries if isinstance(entry.event, Answer | Skip | Repaired))

    @property
    def answers(self) -> tuple[Entry, ...]:
        """The readings."""
        return tuple(entry for entry in self.entries if isinstance(entry.event, Answer))


@dataclass(frozen=True)
class JobRecord:
    """A job.

    Attributes:
        id: its number in this store; 0 outside of one.
        uid: its name everywhere.
        entries: all of them, in order; what was taken back too.

    """

    id: int
    uid: str
    entries: tuple[Entry, ...]

    @cached_property
    def standing(self) -> tuple[Entry, ...]:
        """The entries that were not withdrawn. Undone readings are among them; `walks` leaves those out."""
        gone: set[int] = set()
        for entry in reversed(self.entries):  # a withdrawal can itself not be withdrawn, so one pass does
            if isinstance(entry.event, Withdrawn):
                gone.add(entry.event.of)
        return tuple(e for e in self.entries if not (e.n in gone and isinstance(e.event, WITHDRAWABLE)))

    def _each(self, kind: type[T]) -> Iterator[T]:
        return (entry.event for entry in self.standing if isinstance(entry.event, kind))

    def _last(self, kind: type[T]) -> T | None:
        return next(iter(reversed(list(self._each(kind)))), None)

    @cached_property
    def intake(self) -> Intake:
        """What the job is about."""
        return self._last(Intake) or Intake(unit="")

    @cached_property
    def walks(self) -> tuple[WalkPart, ...]:
        """In order; the last is the one that goes on."""
        corrections = {event.of: event for event in self._each(Corrected)}
        parts: list[tuple[Setup, list[Entry], dict[str, int]]] = []
        for entry in self.standing:
            match entry.event:
                case Setup():
                    parts.append((entry.event, [], {}))
                case ShopCauses(counts=counts) if parts and not parts[-1][1]:
                    parts[-1][2].update(counts)
                case Back() if parts and parts[-1][1]:
                    parts[-1][1].pop()
                case Answer() if parts:
                    parts[-1][1].append(_corrected(entry, corrections.get(entry.n)))
                case Skip() | Repaired() if parts:
                    parts[-1][1].append(entry)
        return tuple(WalkPart(setup, tuple(entries), causes) for setup, entries, causes in parts)

    @property
    def walk(self) -> WalkPart | None:
        """The walk that goes on, if one was begun."""
        return self.walks[-1] if self.walks else None

    @property
    def notes(self) -> tuple[Entry, ...]:
        """Notes that count, and entries with a note on them."""
        return tuple(entry for entry in self.standing if entry.note or isinstance(entry.event, Note))

    @property
    def photos(self) -> tuple[Photo, ...]:
        """Pictures."""
        return tuple(self._each(Photo))

    @property
    def findings(self) -> tuple[FindingTaken, ...]:
        """Findings of the traffic that were taken into the job."""
        return tuple(self._each(FindingTaken))

    @property
    def cautions(self) -> tuple[str, ...]:
        """Cautions acknowledged, in order."""
        return tuple(dict.fromkeys(text for event in self._each(CautionsRead) for text in event.texts))

    @property
    def traffic(self) -> dict[str, TrafficAttached]:
        """Captures attached, under "before" and "after"."""
        return {event.when: event for event in self._each(TrafficAttached)}

    @property
    def tools(self) -> Tools:
        """Meter and adapter used."""
        return self._last(Tools) or Tools()

    @property
    def technician(self) -> str:
        """Who works on it."""
        return getattr(self._last(Technician), "name", "")

    @property
    def confirmed(self) -> CauseConfirmed | None:
        """The cause, where it was proven."""
        return self._last(CauseConfirmed)

    @property
    def worded(self) -> dict[str, str]:
        """Parts of the write-up in the technician's own words."""
        parts = {event.part: event.text for event in self._each(Worded)}
        return {part: text for part, text in parts.items() if text.strip()}

    @property
    def deleted(self) -> bool:
        """Out of the list."""
        return isinstance(self._last(Deleted | Undeleted), Deleted)  # type: ignore[arg-type]

    @property
    def state(self) -> str:
        """How far it is: "new", "walking", "repaired", "cause confirmed"."""
        if self.confirmed:
            return "cause confirmed"
        if self.walk is None or not self.walk.events:
            return "new"
        return "repaired" if any(isinstance(event, Repaired) for event in self.walk.events) else "walking"

    @property
    def created_at(self) -> datetime:
        """UTC."""
        return self.entries[0].at

    @property
    def changed_at(self) -> datetime:
        """UTC."""
        return self.entries[-1].at

    @property
    def takes_back(self) -> Entry | None:
        """The last entry that can be taken back: a walk's by `Back`, any other by `Withdrawn`."""
        walked = {entry.n for entry in self.walk.entries} if self.walk else set()
        kinds = WITHDRAWABLE
        return next((e for e in reversed(self.standing) if e.n in walked or isinstance(e.event, kinds)), None)


def refusal(record: JobRecord, event: JobEvent) -> str:
    """Why an event has no place in a job; empty where it has one."""
    if not record.entries:
        return "" if isinstance(event, Intake) else "a job begins with its intake."
    if isinstance(event, Corrected):
        walked = {entry.n for entry in record.walk.answers} if record.walk else set()
        return "" if event.of in walked else f"entry {event.of} is no reading that stands."
    if isinstance(event, Withdrawn):
        ours = {entry.n for entry in record.standing if isinstance(entry.event, WITHDRAWABLE)}
        return "" if event.of in ours else f"entry {event.of} cannot be withdrawn."
    if isinstance(event, Answer | Skip | Repaired) and record.walk is None:
        return "no walk was begun."
    if isinstance(event, Back) and not (record.walk and record.walk.entries):
        return "there is nothing to take back."
    return ""


def _corrected(entry: Entry, correction: Corrected | None) -> Entry:
    if correction is None or not isinstance(entry.event, Answer):
        return entry
    answer = Answer(entry.event.check, correction.text, correction.span)
    return msgspec.structs.replace(entry, event=answer)
