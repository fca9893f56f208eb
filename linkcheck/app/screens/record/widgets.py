"""The readings of a job as a table: before the repair and after it, side by side."""

from __future__ import annotations

from typing import TYPE_CHECKING

from textual.content import Content

from linkcheck.app.widgets.readings import VERDICTS, verdict_words

if TYPE_CHECKING:
    from linkcheck.jobs.sheet import ReadingLine, Sheet

__all__ = ["readings_table"]

FIGURE = 14  # columns of a reading with its mark


def readings_table(sheet: Sheet | None, width: int) -> Content:
    """All readings: what, before, after (or what, reading, verdict), what a sound truck shows."""
    if sheet is None or not (sheet.readings or sheet.before):
        return Content("none yet")
    if not sheet.before:
        rows = [(line, _figure(line), verdict_words(line)) for line in sheet.readings]
        head = ("reading", "verdict")
    else:
        after = {line.check: line for line in sheet.readings}
        lines = {line.check: line for line in (*sheet.before, *sheet.readings)}
        before = {line.check: line for line in sheet.before}
        rows = [(line, _figure(before.get(name)), _figure(after.get(name))) for name, line in lines.items()]
        head = ("before", "after")
    name = max(20, width - 2 * FIGURE - 30)
    lines_shown = [Content.styled(f"{'':{name}}{head[0]:{FIGURE}}{head[1]:{FIGURE}}  sound", "bold")]
    lines_shown += [
        Content(f"{_clipped(line.name, name):{name}}{first:{FIGURE}}{second:{FIGURE}}  {line.expected}")
        for line, first, second in rows
    ]
    return Content("\n").join(lines_shown)


def _figure(line: ReadingLine | None) -> str:
    return f"{VERDICTS[line.verdict][0]} {line.shown}" if line else "·"


def _clipped(text: str, width: int) -> str:
    return text if len(text) < width else f"{text[: width - 2]}…"
