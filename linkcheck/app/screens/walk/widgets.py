"""Pages to read about a walk, as Markdown: why this check, and all readings."""

from __future__ import annotations

from typing import TYPE_CHECKING

from linkcheck.app.widgets.readings import VERDICTS, verdict_words

if TYPE_CHECKING:
    from linkcheck.jobs.sheet import ReadingLine, Sheet

__all__ = ["readings_page", "reasons_page"]


def reasons_page(sheet: Sheet) -> str:
    """Why this check comes, the suspects, and the case for the leading one."""
    parts = []
    if sheet.card is not None:
        parts += ["## Why this check", sheet.card.why]
    parts.append("## It may be")
    rows = [f"- {each.share:.0%} {each.chance}: {each.title}" for each in sheet.suspects]
    rows.append(f"- {sheet.none_of_these:.0%}: none of the faults known here")
    parts.append("\n".join(rows))
    if sheet.evidence:
        parts += [f"## For and against: {sheet.leader}", "\n".join(f"- {line}" for line in sheet.evidence)]
    return "\n\n".join(parts)


def readings_page(sheet: Sheet) -> str:
    """All readings, before and after a repair."""
    parts = ["## Readings so far", _rows(sheet.readings)]
    if sheet.before:
        parts += ["## Before the repair", _rows(sheet.before)]
    if sheet.compared:
        parts += ["## Before and after", "\n".join(f"- {line}" for line in sheet.compared)]
    return "\n\n".join(parts)


def _rows(lines: tuple[ReadingLine, ...]) -> str:
    if not lines:
        return "none yet"
    return "\n".join(
        f"- {VERDICTS[line.verdict][0]} **{line.name}: {line.shown}** {verdict_words(line)}"
        f" (sound: {line.expected}; {line.state})"
        for line in lines
    )
