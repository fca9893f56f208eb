"""A job as a JSON file, `linkcheck.job/1`, to hand to another shop or keep: out and in again, equal.

The format is described in `format.md` beside this module. A file that comes in is judged whole before anything is
written: every problem is one sentence.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

import msgspec

from linkcheck import __version__
from linkcheck.errors import DataError
from linkcheck.jobs.events import Entry, Intake, Lost
from linkcheck.jobs.record import JobRecord, refusal
from linkcheck.jobs.store import Store

__all__ = ["SCHEMA", "Imported", "export_job", "import_job", "read_job"]

SCHEMA = "linkcheck.job/1"
LARGEST_FILE = 50_000_000


class _File(msgspec.Struct, frozen=True, forbid_unknown_fields=True, rename={"schema_name": "schema"}):
    schema_name: str
    written_by: str
    uid: str
    entries: list[Entry]


@dataclass(frozen=True)
class Imported:
    """What an import did.

    Attributes:
        job: number in the store.
        added: entries that were new.
        new: the job itself was new.

    """

    job: int
    added: int
    new: bool


def export_job(record: JobRecord) -> str:
    """The text of a job's file, ending with a newline."""
    file = _File(SCHEMA, f"linkcheck {__version__}", record.uid, list(record.entries))
    return msgspec.json.format(msgspec.json.encode(file), indent=1).decode() + "\n"


def import_job(store: Store, path: str) -> Imported:
    """Take a job's file into a store. A job that is there already grows by the entries that are new.

    Raises:
        DataError: the file is no job, or the job went on differently here and there.

    """
    record = read_job(path)
    here = store.by_uid(record.uid)
    if here is None:
        return Imported(store.insert(record.uid, record.entries), len(record.entries), new=True)
    known = len(here.entries)
    if here.entries[: len(record.entries)] == record.entries:
        return Imported(here.id, 0, new=False)
    if record.entries[:known] != here.entries:
        raise DataError(
            "This job is here already, and went on differently here and there.",
            where=path,
            todo=f"Compare the two with `linkcheck jobs show {here.id}`; nothing was changed.",
        )
    store.extend(here.id, record.entries[known:])
    return Imported(here.id, len(record.entries) - known, new=False)


def read_job(path: str) -> JobRecord:
    """A job from its file.

    Raises:
        DataError: it cannot be read, or is no job.

    """
    file = _read(path)
    if not 8 <= len(file.uid) <= 64 or not file.uid.isalnum() or file.uid != file.uid.lower():
        raise DataError("The key uid is not 8 to 64 small letters and digits.", where=path)
    whole = not any(isinstance(entry.event, Lost) for entry in file.entries)
    if not file.entries or (whole and not isinstance(file.entries[0].event, Intake)):
        raise DataError("A job begins with its intake.", where=path)
    record = JobRecord(0, file.uid, ())
    for number, entry in enumerate(file.entries, 1):
        where = f"{path}, entry {number}"
        if entry.n != number:
            raise DataError(f"Entries are numbered 1, 2, 3 …, and this one is {entry.n}.", where=where)
        if entry.at.tzinfo is None:
            raise DataError("The time has no offset (2026-01-31T08:00:00Z).", where=where)
        if whole and (why := refusal(record, entry.event)):
            raise DataError(f"This entry does not fit: {why}", where=where)
        record = JobRecord(0, file.uid, (*record.entries, entry))
    return record


def _read(path: str) -> _File:
    try:
        file = Path(path)
        if file.stat().st_size > LARGEST_FILE:
            raise DataError("This file is far too large for a job.", where=path)
        data = file.read_bytes()
    except OSError as error:
        raise DataError(f"This file cannot be read: {error.strerror or error}.", where=path) from error
    try:
        head: Any = msgspec.json.decode(data)
        schema = head.get("schema") if isinstance(head, dict) else None
        if schema != SCHEMA:
            said = f"it is {schema}" if isinstance(schema, str) else "it has no schema"
            raise DataError(f"This is no job ({SCHEMA}): {said}.", where=path)
        return msgspec.json.decode(data, type=_File)
    except (msgspec.MsgspecError, UnicodeError, RecursionError) as error:
        raise DataError(f"This file is no job ({SCHEMA}): {error}.", where=path) from error
