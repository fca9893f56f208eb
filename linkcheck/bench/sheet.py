"""The sheet of a bench test as plain text. A value in, one string out; the page for print is in `linkcheck.report`."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Sequence

import msgspec

from linkcheck.bench.result import BenchResult, Row

__all__ = ["MARKS", "REMARK", "as_json", "as_text"]

MARKS = {
    "pass": ("✓", "pass"),
    "fail": ("✗", "FAIL"),
    "not measured": ("○", "not measured"),
    "no verdict": ("–", "no verdict"),
}
REMARK = (
    "Measured with two interfaces on a bench harness. They cannot force bit errors, so this is no test of the protocol "
    "controller as ISO 16845-1 describes it."
)


def as_text(result: BenchResult, changed: Sequence[str] = (), width: int = 100) -> str:
    """The sheet, `width` columns wide, ending with a newline."""
    return "\n".join(line.rstrip() for line in _lines(result, changed, width)) + "\n"


def as_json(result: BenchResult) -> str:
    """The result as JSON (schema `linkcheck.bench/1`)."""
    return msgspec.json.format(msgspec.json.encode(result), indent=1).decode() + "\n"


def _lines(result: BenchResult, changed: Sequence[str], width: int) -> Iterator[str]:
    conditions = result.conditions
    yield f"Bench test of {conditions.adapter}{'   (partial: stopped early)' if result.partial else ''}"
    yield "═" * width
    yield from textwrap.wrap(f"VERDICT  {result.verdict}", width, subsequent_indent=" " * 9)
    for row in result.failed:
        yield from textwrap.wrap(f"{row.title}{_where(row)}", width, initial_indent=" " * 9, subsequent_indent=" " * 11)
    yield ""
    for row in result.rows:
        yield from _row(row, width)
    yield ""
    if changed:
        yield "Since the last test"
        for sentence in changed:
            yield from textwrap.wrap(sentence, width, initial_indent="  ", subsequent_indent="    ")
        yield ""
    yield from _conditions(result, width)


def _row(row: Row, width: int) -> Iterator[str]:
    mark, word = MARKS[row.verdict]
    lead = f"{mark} {word:<13}"
    yield from textwrap.wrap(f"{lead}{row.title}{_where(row)}", width, subsequent_indent=" " * 15)
    if row.figure:
        text = f"{row.figure}   [limit: {row.limit}]"
        yield from textwrap.wrap(text, width, initial_indent=" " * 15, subsequent_indent=" " * 17)
    if row.note:
        yield from textwrap.wrap(row.note, width, initial_indent=" " * 15, subsequent_indent=" " * 17)


def _where(row: Row) -> str:
    return f" ({row.conditions.split(',')[0]})" if row.conditions else ""


def _conditions(result: BenchResult, width: int) -> Iterator[str]:
    conditions = result.conditions
    rows = [
        ("Under test", " ".join(filter(None, (conditions.adapter, conditions.identity)))),
        ("Partner", " ".join(filter(None, (conditions.partner, conditions.partner_identity)))),
        ("Host", conditions.host),
        ("Started", f"{conditions.started}, plan {conditions.plan}, seed {conditions.seed}"),
    ]
    if conditions.simulated:
        rows.append(("Simulated", f"emulated adapters, no hardware: {conditions.simulated}"))
    for name, text in rows:
        yield from textwrap.wrap(f"{name:<13}{text}", width, subsequent_indent=" " * 13)
    yield from textwrap.wrap(REMARK, width)
