"""The readings of a job as a table, a column for each round; the name of a report's file."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING

from textual.content import Content

if TYPE_CHECKING:
    from linkcheck.report.content import Figure, ReadingRow, Report, Verdict

__all__ = ["file_name", "readings_table"]

MARKS: dict[Verdict, str] = {"ok": "✓", "low": "▼", "high": "▲", "other": "✗", "none": "·"}
FIGURE, SOUND, MOST_NAME = 18, 24, 44  # columns


def readings_table(report: Report, width: int) -> Content:
    """All readings: what, one column a round, what a sound truck shows; its mark says how a reading stands to that."""
    if not report.readings:
        return Content("none yet")
    rounds = report.rounds[-2:]  # more than one repair: the last one is shown, the report has them all
    name = max(22, min(MOST_NAME, width - FIGURE * len(rounds) - SOUND))
    head = "".join(f"{title.replace('the ', '')[: FIGURE - 2]:{FIGURE}}" for title in rounds)
    lines = [Content.styled(f"{'':{name}}{head}sound", "bold")]
    for row in report.readings:
        figures = "".join(f"{_figure(each):{FIGURE}}" for each in row.rounds[-len(rounds) :])
        sound = row.expected.words if row.expected else ""
        first, *more = textwrap.wrap(_name(row), name - 2)
        lines += [Content(f"{first:{name}}{figures}{sound}"), *(Content(f"  {line}") for line in more)]
    return Content("\n").join(lines)


def _name(row: ReadingRow) -> str:
    what = f"{row.what} {row.red} to {row.black}" if row.red else row.what
    return what.replace("cavity ", "")


def _figure(figures: list[Figure]) -> str:
    if not figures:
        return "·"
    last = figures[-1]
    return f"{MARKS[last.verdict]} {last.words}"


def file_name(report: Report, ending: str) -> str:
    """As in "job-12-Truck-7.html": only letters, digits and dashes of the unit, which any file system takes."""
    unit = "".join(letter if letter.isalnum() else "-" for letter in report.intake.unit)[:40].strip("-")
    return f"{'-'.join(part for part in ('job', str(report.number), unit) if part)}.{ending}"
