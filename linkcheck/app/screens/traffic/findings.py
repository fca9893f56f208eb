"""The list of findings, and what one of them rests on."""

from __future__ import annotations

from typing import TYPE_CHECKING

from textual.content import Content
from textual.widgets import OptionList, Static
from textual.widgets.option_list import Option

if TYPE_CHECKING:
    from linkcheck.traffic.result import Finding

__all__ = ["MARKS", "Evidence", "FindingList"]

# Mark, word, colour of a severity
MARKS = {
    "fault": ("✗", "FAULT", "$error"),
    "watch": ("!", "WATCH", "$warning"),
    "note": ("·", "NOTE", "$foreground-muted"),
    "sound": ("✓", "SOUND", "$success"),
    "unknown": ("?", "", "$warning"),
}
WHERE = {
    "load": "2 Load",
    "who": "3 Who talks",
    "addresses": "4 Addresses",
    "errors": "5 Errors",
    "codes": "6 Codes",
    "sensors": "7 Sensors",
}


class FindingList(OptionList):
    """Findings, worst first; the cursor chooses the one whose evidence is shown."""

    def __init__(self, *, id: str | None = None) -> None:  # noqa: A002  as all widgets have it
        super().__init__(id=id, markup=False)
        self.findings: list[tuple[str, Finding]] = []

    def show(self, findings: list[tuple[str, Finding]], *, with_channel: bool) -> None:
        """Show findings, each with its channel; the cursor stays on the finding it is on."""
        before = self.chosen
        self.findings = findings
        self.clear_options()
        self.add_options(Option(_row(name, each, with_channel=with_channel)) for name, each in findings)
        if not findings:
            self.add_option(Option("✓ Nothing to remark.", disabled=True))
            return
        same = [k for k, (name, each) in enumerate(findings) if before and (name, each.finding) == _id(before)]
        self.highlighted = same[0] if same else 0

    @property
    def chosen(self) -> tuple[str, Finding] | None:
        """The finding that the cursor is on, with its channel."""
        row = self.highlighted
        return self.findings[row] if row is not None and row < len(self.findings) else None


def _id(row: tuple[str, Finding]) -> tuple[str, str]:
    return row[0], row[1].finding


def _row(channel: str, finding: Finding, *, with_channel: bool) -> Content:
    mark, word, colour = MARKS[finding.severity]
    where = f"{channel}: " if with_channel and channel else ""
    return Content.assemble(
        (f"{mark} {word:<5} ", f"bold {colour}"), f"{finding.certainty:4.0%}  {where}{finding.text}"
    )


class Evidence(Static, can_focus=True):
    """What a finding rests on: its sentence, what to check next, its figures, and where they can be seen."""

    def show(self, chosen: tuple[str, Finding] | None, zero_s: float = 0.0) -> None:
        """Show one; moments are told from `zero_s`, the first of the recording."""
        if chosen is None:
            self.update("")
            return
        from linkcheck.traffic.words import evidence_rows, shown_in  # noqa: PLC0415  core, when it is needed

        channel, finding = chosen
        mark, word, colour = MARKS[finding.severity]
        lines = [
            Content.assemble((f"{mark} {word} ", f"bold {colour}"), (f"{finding.certainty:.0%} sure", "bold")),
            Content(finding.text),
            Content(""),
            Content.assemble(("Check next  ", "bold $accent"), finding.check_next),
            Content(""),
            Content.styled(f"What it rests on{f' ({channel})' if channel else ''}", "bold $accent"),
            *(Content.assemble(f"{name}: ", (value, "bold")) for name, value in evidence_rows(finding, zero_s)),
            Content(""),
            Content.styled(
                f"enter shows it in {WHERE[shown_in(finding)]} · i takes it into the job", "$foreground-muted"
            ),
        ]
        self.update(Content("\n").join(lines))
