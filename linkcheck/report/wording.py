"""Complaint, cause, correction and confirmation in words, from what a walk showed. Sentences only.

The walk's own finding says the same at greater length; a write-up names what proves the cause and what shows the
repair to be good, and leaves the other readings to the table.
"""

from __future__ import annotations

from collections.abc import Iterable

from linkcheck.diagnosis.reading import Taken
from linkcheck.faults.catalogue import FAULTS
from linkcheck.faults.repairs import REPAIRS
from linkcheck.jobs.record import JobRecord
from linkcheck.report.content import Outcome
from linkcheck.report.replay import Replay, RoundResult
from linkcheck.walk.checks import CHECKS
from linkcheck.walk.layout import Layout
from linkcheck.walk.reasons import check_words, figure_words, title
from linkcheck.walk.steps import point_words, state_words

__all__ = ["HEADLINES", "check_in_full", "written"]

HEADLINES: dict[Outcome, str] = {
    "no_readings": "Not confirmed: no readings were taken.",
    "not_confirmed": "Not confirmed: the readings do not prove one cause yet.",
    "cause_proven": "Cause proven by readings; not repaired yet.",
    "cause_stated": "Cause stated by the technician; the readings do not prove it.",
    "repaired": "Repaired; the readings do not confirm the repair yet.",
    "repair_confirmed": "Repaired, and the repair is confirmed by readings.",
}


def written(job: JobRecord, gone: Replay | None, outcome: Outcome) -> dict[str, str]:
    """The four parts as the program words them."""
    return {
        "complaint": _complaint(job, gone),
        "cause": _cause(job, gone, outcome),
        "correction": _correction(gone, outcome),
        "confirmation": _confirmation(gone, outcome),
    }


def _complaint(job: JobRecord, gone: Replay | None) -> str:
    shown = [] if gone is None else [taken for _, taken in gone.rounds[0].readings if taken.check == "listen:own"]
    finding = gone.rounds[0].finding if gone and shown else None
    said = _sentence(job.intake.complaint)
    return " ".join(part for part in (said, finding.complaint if finding else "") if part) or "Not entered."


def _cause(job: JobRecord, gone: Replay | None, outcome: Outcome) -> str:
    stated = f"{_sentence(job.confirmed.text)} Stated by the technician." if job.confirmed else ""
    if gone is None:
        return stated or "Not found: no readings were taken."
    causes = [_proven(each, gone.layout) for each in gone.rounds if each.repaired or each is gone.rounds[-1]]
    if gone.repaired:
        causes = [_proven(each, gone.layout) for each in gone.rounds if each.repaired]
    if outcome == "cause_stated":
        return f"{stated} The readings do not prove it: {_remaining(gone)}"
    return " ".join(causes)


def _proven(result: RoundResult, layout: Layout) -> str:
    """What a round found, with the readings that prove it."""
    finding = result.finding
    repaired = result.repaired
    if finding is not None and finding.confirmed and (not repaired or set(repaired) == set(result.leader)):
        proof = f" Proven by {_told(result.proof, layout)}." if result.proof else ""
        return f"{title(result.leader, layout)}.{proof}"
    if repaired:
        return f"{title(repaired, layout)}, repaired without being proven by readings."
    return f"Not confirmed. {_likely(result, layout)}"


def _likely(result: RoundResult, layout: Layout) -> str:
    finding = result.finding
    if finding is None or not result.readings:
        return "No readings were taken."
    if finding.none_of_these >= 0.5:
        return "None of the known faults explains the readings."
    titles = {layout.named(fault): title((fault,), layout) for fault in FAULTS}
    named = [
        f"{titles[each['fault']]} ({each['probability']:.0%})" for each in finding.faults[:3] if each["fault"] in titles
    ]
    return f"Possible by the readings: {'; '.join(named)}."


def _remaining(gone: Replay) -> str:
    text = _likely(gone.rounds[-1], gone.layout)
    return text[0].lower() + text[1:]


def _correction(gone: Replay | None, outcome: Outcome) -> str:
    if gone is None or outcome in ("not_confirmed", "cause_stated", "no_readings"):
        return "None yet."
    faults = gone.repaired or gone.rounds[-1].leader
    if not faults:
        return "Nothing to repair."
    repairs = [REPAIRS[name] for name in dict.fromkeys(FAULTS[fault].repair for fault in faults)]
    done = " ".join(f"{repair.title}." for repair in repairs)
    if gone.repaired:
        return gone.layout.named(f"Done: {done[0].lower()}{done[1:]}")
    return gone.layout.named(f"Not done yet. To do: {done} {' '.join(step for each in repairs for step in each.steps)}")


def _confirmation(gone: Replay | None, outcome: Outcome) -> str:
    if gone is None or not gone.repaired:
        return "Not confirmed." if outcome != "cause_proven" else "Not repaired yet."
    after = gone.proofs_after()
    met = [_compared(gone, check) for check, taken in after if taken is not None]
    open_checks = [check_in_full(check, gone.layout) for check, taken in after if taken is None]
    text = " ".join(_sentence(each) for each in met)
    if open_checks:
        return f"Not confirmed yet. {text} Not read, or not as it should be: {'; '.join(open_checks)}.".replace(
            "  ", " "
        )
    return text or "Not confirmed: the readings were not taken again."


def _compared(gone: Replay, check: str) -> str:
    """One reading before and after: "ohms C to D, battery off: 120.4 ohm before, 60.3 ohm after"."""
    quantity = CHECKS[check].quantity
    last = [
        next((taken for _, taken in reversed(each.readings) if taken.check == check), None)
        for each in (gone.rounds[-2], gone.rounds[-1])
    ]
    words = [
        f"{figure_words(taken.value, quantity)} {when}"
        for taken, when in zip(last, ("before", "after"), strict=True)
        if taken is not None
    ]
    return f"{check_in_full(check, gone.layout)}: {', '.join(words)}"


def _told(readings: Iterable[Taken], layout: Layout) -> str:
    told = [
        (check_in_full(each.check, layout), figure_words(each.value, CHECKS[each.check].quantity)) for each in readings
    ]
    return "; ".join(f"{check}: {figure}" for check, figure in told)


def check_in_full(name: str, layout: Layout) -> str:
    """A check with its points and the state of the truck: "ohms, cavity C to cavity D (battery off)"."""
    check = CHECKS[name]
    if check.observable.categories:
        return check_words(check, layout)
    red, black = point_words(check.red, layout), point_words(check.black, layout)
    return f"{'volts' if check.quantity == 'dc_volts' else 'ohms'}, {red} to {black} ({state_words(check.state)})"


def _sentence(text: str) -> str:
    """With a capital and a full stop."""
    text = text.strip()
    return f"{text[0].upper()}{text[1:]}{'' if text[-1] in '.!?' else '.'}" if text else ""
