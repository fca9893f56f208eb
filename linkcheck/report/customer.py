"""The report for the customer: plain words, one screen long, no figures a driver has no use for."""

from __future__ import annotations

from collections.abc import Iterator

from linkcheck.report.content import Outcome, Report
from linkcheck.report.page import environment, local_time
from linkcheck.report.plain import PLAIN

__all__ = ["as_customer_page"]

LONGEST = 400  # characters of a technician's own words that still leave one screen

STATES: dict[Outcome, str] = {
    "no_readings": "○ We have not measured yet.",
    "not_confirmed": "○ We are still looking for the cause.",
    "cause_proven": "○ We found the cause. It is not repaired yet.",
    "cause_stated": "○ We believe we know the cause; our measurements do not prove it yet.",
    "repaired": "○ Repaired. We have not finished checking the repair.",
    "repair_confirmed": "✓ Repaired and checked.",
}


def as_customer_page(report: Report) -> str:
    """One HTML file that needs nothing else."""
    who = ", ".join(part for part in (report.technician, local_time(report.changed_at)) if part)
    template = environment().get_template("customer.html.j2")
    unit = report.intake.unit or "not named"
    return template.render(unit=unit, state=STATES[report.outcome], parts=list(_parts(report)), who=who)


def _parts(report: Report) -> Iterator[tuple[str, str]]:
    said = report.complaint.text if report.complaint.by == "technician" else report.intake.complaint
    yield "What you told us", _short(said) or "Nothing was written down."
    yield "What we found", _found(report)
    yield "What we did", _done(report)
    yield "How we know", _known(report)
    if report.outcome != "repair_confirmed":
        yield "What comes next", _next(report)


def _found(report: Report) -> str:
    if report.cause.by == "technician":
        return _short(report.cause.text)
    if report.outcome in ("cause_proven", "repaired", "repair_confirmed") and (plain := _plain(report)):
        return " ".join(dict.fromkeys(PLAIN[repair].wrong for repair in plain))
    return "The cause is not proven yet, so we will not guess."


def _done(report: Report) -> str:
    if report.correction.by == "technician":
        return _short(report.correction.text)
    if report.outcome in ("repaired", "repair_confirmed") and (plain := _plain(report)):
        return " ".join(dict.fromkeys(PLAIN[repair].done for repair in plain))
    readings = sum(len(figures) for row in report.readings for figures in row.rounds)
    return f"We measured at the diagnostic plug: {readings} readings so far." if readings else "Nothing yet."


def _known(report: Report) -> str:
    if report.confirmation.by == "technician":
        return _short(report.confirmation.text)
    if report.outcome == "repair_confirmed":
        return "We took the same measurements again after the repair, and they are as they should be."
    if report.outcome == "cause_proven":
        return "Our measurements leave no other likely cause."
    return "We do not know for sure yet."


def _next(report: Report) -> str:
    if report.outcome == "cause_proven":
        return "We repair it, then measure again."
    if report.outcome == "repaired":
        return "We measure again to be sure that the repair is good."
    return "We go on measuring until one cause is proven."


def _plain(report: Report) -> list[str]:
    """Ids of the repairs of what was found."""
    return report.found.repairs if report.found else []


def _short(text: str) -> str:
    text = text.strip()
    return text if len(text) <= LONGEST else f"{text[:LONGEST].rsplit(' ', 1)[0]} …"
