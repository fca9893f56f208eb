"""The entries of a job in words, one line each, what was undone and corrected included. Sentences only."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

from linkcheck.jobs.events import (
    CauseConfirmed,
    CautionsRead,
    Corrected,
    Deleted,
    Entry,
    FindingTaken,
    Intake,
    JobEvent,
    Lost,
    Note,
    Photo,
    ShopCauses,
    Technician,
    Tools,
    TrafficAttached,
    Undeleted,
    Withdrawn,
    Worded,
)
from linkcheck.jobs.record import JobRecord
from linkcheck.walk.messages import Answer, Back, Repaired, Setup, Skip

__all__ = ["Line", "history"]


@dataclass(frozen=True, slots=True)
class Line:
    """One entry in words; `counts` is False where it was taken back or replaced since."""

    entry: Entry
    text: str
    counts: bool


def history(job: JobRecord, said: Callable[[Answer], str] | None = None) -> Iterator[Line]:
    """All entries, in order.

    Args:
        job: whose.
        said: puts a reading into words; with the check's id where not given.

    """
    standing = {entry.n for entry in job.standing}
    walked = {entry.n for part in job.walks for entry in part.entries}
    for entry in job.entries:
        counts = entry.n in (walked if isinstance(entry.event, Answer | Skip | Repaired) else standing)
        words = said(entry.event) if said and isinstance(entry.event, Answer) else _words(entry.event)
        yield Line(entry, words + (f" ({entry.note})" if entry.note else ""), counts)


def _words(event: JobEvent) -> str:  # noqa: C901, PLR0911  one line a kind
    match event:
        case Intake():
            return f"intake: {_intake(event)}"
        case Setup(pinout=pinout):
            return f"walk begun on {pinout}"
        case Answer(check=check, text=text):
            return f"{check}: {text}"
        case Skip(check=check):
            return f"{check}: skipped"
        case Back():
            return "the last step taken back"
        case Repaired(faults=faults):
            return f"repaired: {', '.join(faults)}"
        case Corrected(of=of, text=text):
            return f"entry {of} corrected to {text}"
        case Withdrawn(of=of):
            return f"entry {of} withdrawn"
        case CauseConfirmed(text=text):
            return f"cause confirmed: {text}"
        case Worded(part=part, text=text):
            return f"{part}, in own words: {text}" if text else f"{part}: back to the program's words"
        case _:
            return _beside(event)


def _beside(event: JobEvent) -> str:  # noqa: C901, PLR0911  one line a kind
    """Entries beside the walk."""
    match event:
        case Note(text=text):
            return f"note: {text}"
        case Photo(path=path, caption=caption):
            return f"photo: {path}" + (f" ({caption})" if caption else "")
        case Tools(meter=meter, adapter=adapter):
            return f"meter: {meter or 'not named'}; adapter: {adapter or 'not named'}"
        case Technician(name=name):
            return f"technician: {name or 'not named'}"
        case CautionsRead(texts=texts):
            return f"cautions acknowledged: {len(texts)}"
        case TrafficAttached(when=when, summary=summary):
            return f"traffic {when} the repair: {summary.source.path}, {summary.source.frames} frames"
        case FindingTaken(channel=channel, text=text):
            return f"finding on {channel}: {text}"
        case ShopCauses(counts=counts):
            return f"odds sharpened with {sum(counts.values())} causes confirmed in this shop"
        case Deleted():
            return "deleted"
        case Undeleted():
            return "brought back"
        case Lost():
            return "an entry that could not be read when the file was rescued"
    raise TypeError(event)


def _intake(intake: Intake) -> str:
    parts = [intake.unit or "unit not named", intake.complaint, intake.connector, f"{intake.system_volts:g} V"]
    parts += [f"{intake.bit_rate} bit/s"] if intake.bit_rate else []
    parts += [] if intake.j1708 else ["no J1708"]
    parts += [] if intake.shield is None else ["shield" if intake.shield else "no shield"]
    parts += [intake.odometer]
    return "; ".join(part for part in parts if part)
