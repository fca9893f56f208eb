"""The sheet of a wiggle watch as text: what happened when, alone or together, and where that points.

Values in, one string out; the faces print it.
"""

from __future__ import annotations

import textwrap

from linkcheck.j1939.addresses import address_name
from linkcheck.traffic.wiggle_sheet import FallRow, Moment, WiggleSheet

__all__ = ["wiggle_page"]

_WORDS = {"late": "SILENT", "errors": "ERRORS", "dip": "BATTERY", "mark": "MARK", "link": "LINK"}
_LEAD = 18


def wiggle_page(sheet: WiggleSheet, width: int) -> str:
    """The whole sheet, `width` columns wide."""
    watched = sum(len(addresses) for addresses in sheet.watched.values())
    lines = ["── wiggle watch ".ljust(width, "─")]
    head = f"{sheet.length_s:.0f} s, {watched} address{'' if watched == 1 else 'es'} watched"
    happened = [moment for moment in sheet.moments if moment.kind not in ("mark", "link")]
    lines.append(f"{head}; {_count(len(happened), 'thing')} happened" if happened else f"{head}; nothing happened")
    if not watched:
        lines += textwrap.wrap(
            "No address was heard long enough to know its habits (five seconds, five frames): none could be late.",
            width,
        )
    if sheet.meter is not None:
        meter = sheet.meter
        spread = meter.highest - meter.lowest
        lines.append(
            f"Meter on min/max: {meter.lowest:g} to {meter.highest:g} {meter.unit} ({spread:.3g} {meter.unit} apart)"
        )
    lines.append("")
    for moment in sheet.moments:
        lines += _moment(moment, width, many=len(sheet.watched) > 1)
    if sheet.falls:
        lines += ["", "Who falls together, and where that points"]
        for row in sheet.falls:
            lines += _fall(row, width)
    return "\n".join(line.rstrip() for line in lines).rstrip()


def _count(number: int, noun: str) -> str:
    return f"{number} {noun}{'' if number == 1 else 's'}"


def _moment(moment: Moment, width: int, *, many: bool) -> list[str]:
    where = f"{moment.channel}: " if many and moment.channel else ""
    lead = f"{moment.at_s:>7.2f} s  {_WORDS[moment.kind]:<8}"
    lines = textwrap.wrap(where + moment.text, width, initial_indent=lead, subsequent_indent=" " * _LEAD)
    if moment.kind in ("mark", "link"):
        return lines
    beside = "with " + "; ".join(moment.together) if moment.together else "alone"
    return lines + textwrap.wrap(beside, width, initial_indent=" " * _LEAD, subsequent_indent=" " * _LEAD)


def _fall(row: FallRow, width: int) -> list[str]:
    names = ", ".join(f"{a} ({address_name(a)})" for a in row.addresses)
    text = f"{names}: {_count(row.times, 'time')}; {row.text}"
    lead = f"  {row.shares.upper():<14}"
    return textwrap.wrap(text, width, initial_indent=lead, subsequent_indent=" " * len(lead))
