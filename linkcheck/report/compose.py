"""A job made into a report: the table of readings, the outcome, and the rest as it is. Words are in `wording`."""

from __future__ import annotations

from linkcheck import __version__
from linkcheck.diagnosis.reading import Taken
from linkcheck.errors import LinkcheckError
from linkcheck.faults.catalogue import FAULTS
from linkcheck.jobs.events import Corrected, Entry, Note, WordedPart
from linkcheck.jobs.history import history
from linkcheck.jobs.naming import answer_words
from linkcheck.jobs.record import JobRecord
from linkcheck.report.content import (
    SCHEMA,
    Band,
    Cause,
    Connector,
    Figure,
    Outcome,
    ReadingRow,
    Remark,
    Report,
    Suspect,
    Text,
    Verdict,
)
from linkcheck.report.marks import place_of
from linkcheck.report.replay import Replay, replay
from linkcheck.report.wording import HEADLINES, check_in_full, written
from linkcheck.walk.checks import CHECKS, Check
from linkcheck.walk.engine import Walk
from linkcheck.walk.messages import Answer, Finding, Repaired, Skip
from linkcheck.walk.reasons import figure_words, title
from linkcheck.walk.steps import point_words, state_words

__all__ = ["compose"]

NAMES = {
    "dc_volts": "volts",
    "ohms": "ohms",
    "listen": "adapter listening",
    "heard": "addresses heard",
    "look": "looked at",
}


def compose(job: JobRecord) -> Report:
    """The report of a job.

    A walk whose pinout is gone is not gone through again: its readings are told as typed, and `trouble` says why.
    """
    part, gone, trouble = job.walk, None, ""
    if part is not None and part.answers:
        try:
            gone = replay(part)
        except LinkcheckError as error:
            trouble = f"The walk could not be gone through again: {error.sentence}"
    outcome = _outcome(job, gone)
    texts = written(job, gone, outcome)
    return Report(
        schema_name=SCHEMA,
        written_by=f"linkcheck {__version__}",
        job=job.uid,
        number=job.id,
        intake=job.intake,
        connector=Connector(job.intake.connector, gone.pinout.title if gone else ""),
        created_at=job.created_at,
        changed_at=job.changed_at,
        technician=job.technician,
        meter=job.tools.meter,
        adapter=job.tools.adapter,
        outcome=outcome,
        headline=HEADLINES[outcome],
        complaint=_text(job, "complaint", texts["complaint"]),
        cause=_text(job, "cause", texts["cause"]),
        correction=_text(job, "correction", texts["correction"]),
        confirmation=_text(job, "confirmation", texts["confirmation"]),
        found=_cause(gone) if gone else None,
        rounds=_round_names(len(gone.rounds)) if gone else ["as typed"],
        readings=_rows(gone) if gone else _rows_as_typed(job),
        belief=gone.belief if gone else [],
        traffic={when: job.traffic[when].summary for when in ("before", "after") if when in job.traffic},
        findings=list(job.findings),
        cautions=list(job.cautions),
        notes=[Remark(entry.at, _note(entry)) for entry in job.notes],
        photos=list(job.photos),
        changes=_changes(job, gone),
        trouble=trouble,
    )


def _text(job: JobRecord, part: WordedPart, program: str) -> Text:
    own = job.worded.get(part)
    return Text(own, "technician") if own else Text(program)


def _note(entry: Entry) -> str:
    said = entry.event.text if isinstance(entry.event, Note) else ""
    return " ".join(part for part in (said, entry.note) if part)


def _outcome(job: JobRecord, gone: Replay | None) -> Outcome:
    """How far the job got, by its readings; a cause stated by hand is called that."""
    if gone is None:
        return (
            "cause_stated"
            if job.confirmed
            else "no_readings"
            if job.walk is None or not job.walk.answers
            else ("not_confirmed")
        )
    if gone.repaired:
        after = gone.proofs_after()
        met = [taken for _, taken in after if taken is not None]
        return "repair_confirmed" if after and len(met) == len(after) else "repaired"
    last = gone.rounds[-1].finding
    if last is not None and last.confirmed:
        return "cause_proven"
    return "cause_stated" if job.confirmed else "not_confirmed"


def _cause(gone: Replay) -> Cause:
    """What was found before the last repair; without one, what is found by now."""
    result = gone.rounds[-2] if len(gone.rounds) > 1 else gone.rounds[-1]
    assert result.finding is not None  # noqa: S101  set for every round
    finding = result.finding
    titles = {gone.layout.named(fault): title((fault,), gone.layout) for fault in gone.layout.faults()}
    faults = [
        Suspect(each["fault"], titles.get(each["fault"], "None of the faults known here"), each["probability"])
        for each in finding.faults
    ]
    named = gone.repaired or result.leader if finding.confirmed or gone.repaired else ()
    place = place_of(named, gone.layout)
    return Cause(
        faults=faults,
        proven=finding.confirmed,
        repairs=list(dict.fromkeys(FAULTS[fault].repair for fault in named)),
        root=finding.root_cause,
        cavities=place.bad,
        behind=place.behind,
        then=_then(gone, finding),
    )


def _then(gone: Replay, finding: Finding) -> list[str]:
    """What to do next; while nothing is proven that is the next check, and nothing about a repair."""
    check = gone.walk.check
    if finding.confirmed or gone.repaired or check is None:
        return finding.then
    return [f"Next check: {check_in_full(check.id, gone.layout)}.", *(t for t in finding.then if "repair" not in t)]


def _round_names(count: int) -> list[str]:
    if count == 1:
        return ["reading"]
    after = ["after the repair"] if count == 2 else [f"after repair {k}" for k in range(1, count)]
    return ["before the repair", *after]


# Readings ------------------------------------------------------------------------------------------------------------


def _rows(gone: Replay) -> list[ReadingRow]:
    proofs = {taken.check for each in gone.rounds for taken in each.proof} | {check for check, _ in gone.proofs_after()}
    order = dict.fromkeys(taken.check for each in gone.rounds for _, taken in each.readings)
    return [_row(gone, check, proof=check in proofs) for check in order]


def _row(gone: Replay, name: str, *, proof: bool) -> ReadingRow:
    check, expected = CHECKS[name], gone.walk.expected(CHECKS[name])
    listens = bool(check.observable.categories)
    return ReadingRow(
        check=name,
        what=NAMES[check.quantity] + (" at the other bit rate" if check.other_rate else ""),
        red="" if listens else point_words(check.red, gone.layout),
        black="" if listens else point_words(check.black, gone.layout),
        state=state_words(check.state),
        expected=_band(expected),
        rounds=[
            [_figure(entry, taken, check, gone.walk) for entry, taken in each.readings if taken.check == name]
            for each in gone.rounds
        ],
        proof=proof,
    )


def _band(expected: dict[str, object]) -> Band:
    if "shows" in expected:
        return Band(str(expected["shows"]).replace("_", " "), shows=str(expected["shows"]))
    low, high, unit = expected["low"], expected["high"], str(expected["unit"])
    quantity = "dc_volts" if unit == "V" else "ohms"
    if not isinstance(low, float):
        return Band("OL", unit=unit)
    bottom = figure_words(low, quantity)
    if not isinstance(high, float):
        return Band(f"over {bottom}, or OL", low, None, unit)
    top = figure_words(high, quantity)
    if bottom.split()[-1] == top.split()[-1]:
        bottom = bottom.split()[0]
    return Band(f"{bottom} to {top}", low, high, unit)


def _figure(entry: Entry, taken: Taken, check: Check, walk: Walk) -> Figure:
    value = None if isinstance(taken.value, str) or taken.value == float("inf") else taken.value
    return Figure(
        words=figure_words(taken.value, check.quantity),
        value=value,
        typed=entry.event.text if isinstance(entry.event, Answer) else "",
        verdict=_verdict(taken, walk.expected(check)),
        at=entry.at,
        note=entry.note,
    )


def _verdict(taken: Taken, expected: dict[str, object]) -> Verdict:
    """Beside the band, the meter's own uncertainty allowed for."""
    if isinstance(taken.value, str):
        return "ok" if taken.value == expected.get("shows") else "other"
    ends = [float("inf") if end is None else float(str(end)) for end in (expected["low"], expected["high"])]
    if taken.value + taken.uncertainty < ends[0]:
        return "low"
    return "high" if taken.value - taken.uncertainty > ends[1] else "ok"


def _rows_as_typed(job: JobRecord) -> list[ReadingRow]:
    """Readings of a walk that could not be gone through: as they were entered, without a band."""
    rows: list[ReadingRow] = []
    for entry in job.walk.answers if job.walk else ():
        assert isinstance(entry.event, Answer)  # noqa: S101  answers are
        figure = Figure(entry.event.text, None, entry.event.text, "none", entry.at, entry.note)
        rows.append(ReadingRow(entry.event.check, entry.event.check, "", "", "", None, [[figure]], proof=False))
    return rows


def _changes(job: JobRecord, gone: Replay | None) -> list[Remark]:
    """Readings that were taken back or corrected, so that nobody has to wonder."""
    layout = gone.layout if gone else None
    walked = {entry.n: entry for entry in job.entries}
    lines = [
        Remark(line.entry.at, f"taken back: {line.text}")
        for line in history(job, lambda answer: answer_words(answer, layout))
        if not line.counts and isinstance(line.entry.event, Answer | Skip | Repaired)
    ]
    corrected = [
        Remark(entry.at, f"corrected to {entry.event.text}: {answer_words(old, layout)}")
        for entry in job.standing
        if isinstance(entry.event, Corrected)
        and entry.event.of in walked
        and isinstance(old := walked[entry.event.of].event, Answer)
    ]
    return sorted([*lines, *corrected], key=lambda remark: remark.at)
