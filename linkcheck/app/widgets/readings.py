"""Readings so far, each with its verdict by mark and word."""

from __future__ import annotations

from typing import TYPE_CHECKING

from textual.content import Content

if TYPE_CHECKING:
    from linkcheck.jobs.sheet import ReadingLine, Verdict

__all__ = ["VERDICTS", "reading_content", "verdict_words"]

# Mark, word, colour
VERDICTS: dict[Verdict, tuple[str, str, str]] = {
    "sound": ("✓", "in the band", "$success"),
    "low": ("▼", "too low", "$error"),
    "high": ("▲", "too high", "$error"),
    "other": ("✗", "not as expected", "$error"),
}


def verdict_words(line: ReadingLine) -> str:
    """The verdict in a word or two."""
    if line.shown == "OL" and line.verdict == "high":
        return "open"
    if line.verdict == "sound" and not line.shown[-1:].isupper() and line.shown == line.expected:
        return "as expected"
    return VERDICTS[line.verdict][1]


def reading_content(line: ReadingLine, *, full: bool = True) -> Content:
    """A reading in a line, and what was expected in a second one where there is room."""
    mark, _, colour = VERDICTS[line.verdict]
    head = Content.assemble((f"{mark} ", f"bold {colour}"), f"{line.name}  ", (line.shown, "bold"))
    if not full:
        return Content.assemble(head, (f"  {verdict_words(line)}", colour))
    tail = f"  {verdict_words(line)}; sound: {line.expected}; {line.state}"
    return Content("\n").join([head, Content.styled(tail, "$foreground-muted")])
