"""The readable page about a J1708 link: verdict first, then the figures behind it. A value in, one string out."""

from __future__ import annotations

import re
import textwrap
from collections.abc import Iterator

from linkcheck.j1708.result import FaultRow, LinkResult

__all__ = ["page"]

_WORDS = {"fault": "FAULT", "watch": "WATCH", "note": "NOTE"}
_SHORT = 6  # rows of a table before "and more", unless everything is asked for


def page(result: LinkResult, width: int, *, everything: bool = False) -> str:
    """The whole answer as text, `width` columns wide."""
    cut = "   (partial: stopped early)" if result.partial else ""
    lines = [f"{result.source['path']}   {result.source['format']}   {result.bytes:,} bytes{cut}", "═" * width]
    lines += [*_verdict(result, width), ""]
    for finding in result.findings:
        lead = f"{_WORDS[finding.severity]:<6}{finding.certainty:>4.0%}  "
        lines += textwrap.wrap(finding.text, width, initial_indent=lead, subsequent_indent=" " * 12)
        if finding.check_next:
            nudge = " " * 12
            lines += textwrap.wrap(
                f"Check next: {finding.check_next}", width, initial_indent=nudge, subsequent_indent=nudge
            )
    lines += [""] if result.findings else []
    if result.bytes:
        lines += [*_figures(result, width), ""]
        lines += [*_who(result, everything=everything), *_faults(result.faults, width, everything=everything)]
        lines += _values(result)
    if result.source.get("skipped"):
        first = result.source["skipped_lines"][0]
        lines.append(f"Skipped lines: {result.source['skipped']} (first: line {first['line']}, {first['reason']})")
    for note in result.source.get("notes", []):
        lines += textwrap.wrap(f"Note: {note}", width, subsequent_indent="      ")
    return "\n".join(line.rstrip() for line in lines).rstrip()


def _verdict(result: LinkResult, width: int) -> list[str]:
    if not result.bytes:
        return ["VERDICT  No byte was heard: the link is silent, or the adapter is not on F and G."]
    worst = result.findings[0] if result.findings else None
    if worst is None or worst.severity == "note":
        head = "VERDICT  The J1708 link looks sound."
    elif worst.severity == "watch":
        head = "VERDICT  The J1708 link works; some things deserve a look."
    else:
        head = f"VERDICT  Something is wrong: {re.split('[.:] ', worst.text, maxsplit=1)[0].rstrip('.')}."
    heard = len(result.senders)
    tally = f"{result.messages:,} messages from {heard} sender{'' if heard == 1 else 's'}"
    return [*textwrap.wrap(head, width, subsequent_indent=" " * 9), f"{'':9}{tally}"]


def _row(label: str, text: str, width: int) -> list[str]:
    return textwrap.wrap(f"{label:<14}{text}", width, subsequent_indent=" " * 14)


def _figures(result: LinkResult, width: int) -> Iterator[str]:
    load = result.bus_load
    if load.mean is not None and load.peak_1s is not None:
        text = f"mean {load.mean:.1%}   worst second {load.peak_1s:.1%}   (bytes at 9600 bit/s)"
        yield from _row("Link load", text, width)
    damaged = ", ".join(f"{count:,} {kind}" for kind, count in result.damaged.items()) or "none"
    collided = f"; {result.collisions} of them collisions" if result.collisions else ""
    yield from _row("Damaged", f"{damaged}{collided}", width)
    if result.mended:
        text = f"{result.mended:,} messages were framed by their content, as the time stamps are too coarse"
        yield from _row("Mended", text, width)
    if result.meter is not None and result.driven_share is not None:
        meter = result.meter
        volts = f"F to A {meter.plus_low_v:.2f} to {meter.plus_high_v:.2f} V   "
        volts += f"G to A {meter.minus_low_v:.2f} to {meter.minus_high_v:.2f} V"
        yield from _row("On a meter", f"{volts}   (driven {result.driven_share:.1%})", width)


def _who(result: LinkResult, *, everything: bool) -> Iterator[str]:
    if not result.senders:
        return
    yield f"Who talks     MID {'name':<28} {'messages':>9}  bytes  longest gap"
    for row in result.senders:
        figures = f"{row.messages:>9,} {row.share_of_bytes:>6.0%} {row.longest_silence_s:>10.2f} s"
        yield f"{'':14}{row.mid:>3} {row.name[:28]:<28} {figures}"
        for parameter in row.parameters if everything else ():
            period = "-" if parameter.period_ms is None else f"{parameter.period_ms:.0f} ms"
            yield f"{'':18}PID {parameter.pid:<4}{parameter.name[:30]:<30} {parameter.count:>7,}  every {period}"
    yield ""


def _faults(faults: list[FaultRow], width: int, *, everything: bool) -> Iterator[str]:
    if not faults:
        return
    yield f"Fault lists   {len(faults)}; those about a link first"
    for row in faults if everything else faults[:_SHORT]:
        state = "active" if row.active else "stored"
        count = "" if row.count is None else f" ×{row.count}"
        what = f"{'SID' if row.subsystem else 'PID'} {row.number}"
        yield f"  MID {row.mid:<4}{what:<9} FMI {row.fmi:<3}{state}{count:>5}  {row.text}"[:width]
    if len(faults) > _SHORT and not everything:
        yield f"  ... and {len(faults) - _SHORT} more (--all lists them)"
    yield ""


def _values(result: LinkResult) -> Iterator[str]:
    if not result.values:
        return
    yield f"{'Sensors':<14}MID {'':<26}{'first':>10}{'last':>10}{'lowest':>10}{'highest':>10}"
    for row in result.values:
        figures = "".join(f"{value:>10.2f}" for value in (row.first, row.last, row.minimum, row.maximum))
        yield f"{'':14}{row.mid:>3} {row.name[:26]:<26}{figures} {row.unit}"
    yield ""
