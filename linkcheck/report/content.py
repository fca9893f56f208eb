"""What a report says, as one value: every face draws from it, and its JSON is `linkcheck.report/1`, described in
`format.md` beside this module.

Values only; figures carry their unit, and their words as a person reads them. Renaming a field changes the format.
"""

from __future__ import annotations

from datetime import datetime
from typing import Literal

import msgspec

from linkcheck.jobs.events import FindingTaken, Intake, Photo
from linkcheck.jobs.traffic_summary import TrafficSummary

__all__ = [
    "SCHEMA",
    "Band",
    "BeliefStep",
    "Cause",
    "Connector",
    "Figure",
    "Outcome",
    "ReadingRow",
    "Remark",
    "Report",
    "Suspect",
    "Text",
    "Verdict",
    "as_json",
]

SCHEMA = "linkcheck.report/1"

Verdict = Literal["ok", "low", "high", "other", "none"]
Outcome = Literal["no_readings", "not_confirmed", "cause_proven", "cause_stated", "repaired", "repair_confirmed"]


class Figure(msgspec.Struct, frozen=True):
    """One reading.

    Attributes:
        words: as one says it: "120.4 ohm", "OL", "no power".
        value: in volts or ohms; None for OL and for words.
        typed: as it was entered.
        verdict: beside the expected band: "ok", "low", "high", "other" (a word that should be another), "none" (there
            is no band).
        at: when.
        note: the technician's.

    """

    words: str
    value: float | None
    typed: str
    verdict: Verdict
    at: datetime
    note: str = ""


class Band(msgspec.Struct, frozen=True):
    """What nine of ten sound trucks show. `low` and `high` in `unit`; None is OL. `shows` for words."""

    words: str
    low: float | None = None
    high: float | None = None
    unit: str = ""
    shows: str = ""


class ReadingRow(msgspec.Struct, frozen=True):
    """One check and its readings.

    Attributes:
        check: id.
        what: "volts", "ohms", "adapter listening".
        red, black: where the leads were, in words; empty with an adapter.
        state: of the truck, in words.
        expected: None where nothing is known.
        rounds: for each round (see `Report.rounds`) its readings, in order; of several the last counts.
        proof: it belongs to what proves the cause or the repair.

    """

    check: str
    what: str
    red: str
    black: str
    state: str
    expected: Band | None
    rounds: list[list[Figure]]
    proof: bool


class Suspect(msgspec.Struct, frozen=True):
    """A fault and its probability, 0-1."""

    fault: str
    title: str
    probability: float


class BeliefStep(msgspec.Struct, frozen=True):
    """The belief after a reading: the suspects, most certain first, and the chance of a fault outside the catalogue."""

    n: int
    reading: str
    round: int
    suspects: list[Suspect]
    none_of_these: float


class Cause(msgspec.Struct, frozen=True):
    """What was found.

    Attributes:
        faults: most certain first; exactly these where `proven`, else the short list that remains.
        proven: the readings carry it.
        repairs: ids of what the proven or repaired faults take to repair; none before.
        root: what may lie behind it, or was shown to.
        cavities: labels of those that are bad.
        behind: labels of those whose wires lead to what is bad.
        then: what to do next.

    """

    faults: list[Suspect]
    proven: bool
    repairs: list[str]
    root: str
    cavities: list[str]
    behind: list[str]
    then: list[str]


class Connector(msgspec.Struct, frozen=True):
    """The connector measured at. `title` is empty where its pinout could not be read."""

    name: str
    title: str


class Text(msgspec.Struct, frozen=True):
    """A part of the write-up, and who worded it: "program" or "technician"."""

    text: str
    by: Literal["program", "technician"] = "program"


class Remark(msgspec.Struct, frozen=True):
    """Something said, and when."""

    at: datetime
    text: str


class Report(msgspec.Struct, frozen=True, rename={"schema_name": "schema"}):
    """The whole report.

    Attributes:
        schema_name: "linkcheck.report/1".
        written_by: program and version.
        job: its uid.
        number: of the job in the shop's own list; 0 where it has none.
        intake: what the job is about, as taken in.
        connector: measured at.
        created_at, changed_at: of the job.
        technician, meter, adapter: empty where not entered.
        outcome: how far it got.
        headline: the same as a sentence.
        complaint, cause, correction, confirmation: the write-up.
        found: the cause as data; None without readings.
        rounds: names of the columns of `readings`: "before the repair", "after the repair".
        readings: in the order first taken.
        belief: step by step; empty without readings.
        traffic: under "before" and "after".
        findings: of the traffic, taken into the job.
        cautions: acknowledged.
        notes, photos: as entered.
        changes: what was taken back or corrected.
        trouble: why the walk could not be gone through again; empty where it could.

    """

    schema_name: str
    written_by: str
    job: str
    number: int
    intake: Intake
    connector: Connector
    created_at: datetime
    changed_at: datetime
    technician: str
    meter: str
    adapter: str
    outcome: Outcome
    headline: str
    complaint: Text
    cause: Text
    correction: Text
    confirmation: Text
    found: Cause | None
    rounds: list[str]
    readings: list[ReadingRow]
    belief: list[BeliefStep]
    traffic: dict[str, TrafficSummary]
    findings: list[FindingTaken]
    cautions: list[str]
    notes: list[Remark]
    photos: list[Photo]
    changes: list[Remark]
    trouble: str = ""


def as_json(report: Report) -> str:
    """The report as JSON, ending with a newline."""
    return msgspec.json.format(msgspec.json.encode(report), indent=1).decode() + "\n"
