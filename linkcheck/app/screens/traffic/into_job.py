"""What can be taken out of a result: into the open job, to the clipboard, into a file. Values in, values out."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from linkcheck.jobs.events import FindingTaken, JobEvent, TrafficAttached
from linkcheck.jobs.traffic_summary import summary_of
from linkcheck.traffic.page import page
from linkcheck.traffic.words import all_findings

if TYPE_CHECKING:
    from linkcheck.traffic.result import Finding, TrafficResult

__all__ = ["COPIES", "copy_of", "events_for", "rows_for"]

COPIES = (("page", "The page, as plain text"), ("finding", "This finding"), ("json", "Everything, as JSON"))
PAGE_COLUMNS = 100

Chosen = tuple[str, "Finding"] | None


def rows_for(result: TrafficResult, chosen: Chosen) -> list[tuple[str, str]]:
    """What can be taken into a job, to choose from."""
    faults = sum(each.severity == "fault" for _, each in all_findings(result))
    rows = [("before", "The capture, as it was before the repair"), ("after", "The capture, as it is after the repair")]
    if chosen is not None:
        rows.append(("finding", f"This finding: {chosen[1].text}"))
    if faults > 1:
        rows.append(("faults", f"All {faults} findings that are faults"))
    return rows


def events_for(what: str, result: TrafficResult, chosen: Chosen) -> tuple[list[JobEvent], str]:
    """The job's events for what was chosen, and the sentence that says what was done.

    Raises:
        DataError: the result cannot be kept.

    """
    if what == "before":
        return [TrafficAttached("before", summary_of(result))], "The capture is in the job, as before the repair."
    if what == "after":
        return [TrafficAttached("after", summary_of(result))], "The capture is in the job, as after the repair."
    if what == "finding" and chosen is not None:
        return [_taken(*chosen)], "The finding is in the job."
    faults: list[JobEvent] = [_taken(name, each) for name, each in all_findings(result) if each.severity == "fault"]
    return faults, f"{len(faults)} findings are in the job."


def _taken(channel: str, finding: Finding) -> FindingTaken:
    return FindingTaken(channel, finding.finding, finding.text, finding.check_next)


def copy_of(what: str, result: TrafficResult, chosen: Chosen) -> tuple[str, str]:
    """A text to copy out, and a name for its file."""
    stem = Path(str(result.source.get("path", "traffic"))).name.split(".")[0]
    if what == "json":
        import msgspec  # noqa: PLC0415

        return msgspec.json.format(msgspec.json.encode(result), indent=1).decode(), f"{stem}-traffic.json"
    if what == "finding" and chosen is not None:
        finding = chosen[1]
        return f"{finding.text}\nCheck next: {finding.check_next}\n", f"{stem}-finding.txt"
    return page(result, PAGE_COLUMNS, everything=True) + "\n", f"{stem}-traffic.txt"
