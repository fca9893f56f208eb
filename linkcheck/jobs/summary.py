"""A job as one line of the list, and the words it is found by."""

from __future__ import annotations

import unicodedata
from datetime import datetime

import msgspec

from linkcheck.jobs.record import JobRecord

__all__ = ["JobSummary", "plain", "summary_of_job", "words_of"]


class JobSummary(msgspec.Struct, frozen=True):
    """One line of the list. `state`: "new", "walking", "repaired" or "cause confirmed"; times are UTC; `faults` are the
    ids of the confirmed cause.
    """

    id: int
    uid: str
    unit: str
    complaint: str
    cause: str
    connector: str
    state: str
    readings: int
    created_at: datetime
    changed_at: datetime
    deleted: bool
    faults: list[str] = []


def summary_of_job(job: JobRecord) -> JobSummary:
    """The line of a job."""
    confirmed = job.confirmed.text if job.confirmed else ""
    return JobSummary(
        id=job.id,
        uid=job.uid,
        unit=job.intake.unit,
        complaint=job.worded.get("complaint", "") or job.intake.complaint,
        cause=job.worded.get("cause", "") or confirmed,
        connector=job.intake.connector,
        state=job.state,
        readings=sum(len(walk.answers) for walk in job.walks),
        created_at=job.created_at,
        changed_at=job.changed_at,
        deleted=job.deleted,
        faults=job.confirmed.faults if job.confirmed else [],
    )


def words_of(job: JobRecord) -> str:
    """What a search looks at: unit, complaint, cause, in every wording."""
    confirmed = [job.confirmed.text, *job.confirmed.faults] if job.confirmed else []
    worded = [job.worded.get("complaint", ""), job.worded.get("cause", "")]
    return plain(" ".join([job.intake.unit, job.intake.complaint, *worded, *confirmed]))


def plain(text: str) -> str:
    """Without accents and capitals, so that a search does not mind them."""
    letters = unicodedata.normalize("NFKD", text.casefold())
    return "".join(letter for letter in letters if not unicodedata.combining(letter))
