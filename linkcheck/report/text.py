"""The report as plain text for pasting into a work order: 72 columns, plain characters where the words allow it."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator

from linkcheck.report.content import Figure, ReadingRow, Report
from linkcheck.report.page import local_time

__all__ = ["as_text"]

WIDTH = 72
WORDS = {"ok": "ok", "low": "too low", "high": "too high", "other": "not as expected", "none": ""}
PARTS = ("complaint", "cause", "correction", "confirmation")


def as_text(report: Report) -> str:
    """The text, ending with a newline."""
    return "\n".join(_lines(report)) + "\n"


def _lines(report: Report) -> Iterator[str]:
    intake = report.intake
    yield from _fill(f"UNIT {intake.unit or 'not named'}" + (f", {intake.odometer}" if intake.odometer else ""))
    yield from _fill(report.headline)
    for part in PARTS:
        yield ""
        yield part.upper()
        yield from _fill(getattr(report, part).text)
    if report.readings:
        yield ""
        yield "READINGS (expected; " + ", ".join(report.rounds) + ")"
        for row in report.readings:
            yield from _row(row, report.rounds)
    if report.traffic:
        yield ""
        yield "TRAFFIC"
        yield from _traffic(report)
    if report.notes:
        yield ""
        yield "NOTES"
        for note in report.notes:
            yield from _fill(f"- {note.text}", "  ")
    yield ""
    yield from _fill(f"Meter: {report.meter or 'not entered'}. Adapter: {report.adapter or 'not entered'}.")
    yield from _fill(f"{report.technician or 'Technician not entered'}, {local_time(report.changed_at)}")


def _row(row: ReadingRow, rounds: list[str]) -> Iterator[str]:
    where = f", {row.red} to {row.black}" if row.red else ""
    state = f" ({row.state})" if row.state else ""
    yield from _fill(f"- {row.what}{where}{state}", "  ")
    told = [f"{name}: {_figures(figures)}" for name, figures in zip(rounds, row.rounds, strict=True) if figures]
    expected = [f"expected {row.expected.words}"] if row.expected else []
    yield from _fill("; ".join([*expected, *told]), "  ", first="  ")


def _figures(figures: list[Figure]) -> str:
    last = figures[-1]
    words = ", then ".join(each.words for each in figures)
    return f"{words} {WORDS[last.verdict]}".strip()


def _traffic(report: Report) -> Iterator[str]:
    for when, summary in report.traffic.items():
        for name, channel in summary.channels.items():
            mean = channel.bus_load.mean
            load = "not known" if mean is None else f"{mean:.1%}"
            yield from _fill(
                f"- {when} the repair, {name}: {channel.frames} frames, bus load {load}, "
                f"{channel.error_frames.total} error frames, {len(channel.source_addresses)} addresses heard",
                "  ",
            )
            for finding in channel.findings:
                if finding.severity == "fault":
                    yield from _fill(finding.text, "  ", first="  ")


def _fill(text: str, indent: str = "", *, first: str = "") -> Iterator[str]:
    for paragraph in text.splitlines() or [""]:
        yield from textwrap.wrap(
            paragraph, WIDTH, initial_indent=first, subsequent_indent=indent, break_long_words=True
        ) or [""]
