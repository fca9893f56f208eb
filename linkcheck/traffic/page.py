"""The readable page of a result: verdict first, then the figures behind it. Values in, one string out."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator

from linkcheck.traffic.plots import SILENT, TALKING, columns, strip
from linkcheck.traffic.result import ChannelResult, Finding, SourceRow, TrafficResult
from linkcheck.traffic.words import (
    SEVERITIES,
    code_words,
    error_words,
    load_words,
    meter_words,
    period_words,
    rate_words,
    silences_of,
    verdict_of,
)

__all__ = ["page"]

_SHORT = 6  # rows of a table before "and more", unless everything is asked for


def page(result: TrafficResult, width: int, *, everything: bool = False) -> str:
    """The whole answer as text, `width` columns wide."""
    lines = [_headline(result), "═" * width]
    lines += [*_verdict(result, width), ""]
    lines += _findings(result.findings, width)
    for name, channel in result.channels.items():
        lines += _channel(name, channel, width, everything=everything)
    for note in result.source.get("notes", []):
        lines += textwrap.wrap(f"Note: {note}", width, subsequent_indent="      ")
    return "\n".join(line.rstrip() for line in lines).rstrip()


def _headline(result: TrafficResult) -> str:
    source = result.source
    cut = "   (partial: stopped early)" if result.partial else ""
    return f"{source['path']}   {source['format']}   {source['frames']:,} frames{cut}"


def _verdict(result: TrafficResult, width: int) -> list[str]:
    verdict = verdict_of(result)
    lines = textwrap.wrap(f"VERDICT  {verdict.text}", width, subsequent_indent=" " * 9)
    return [*lines, f"{'':9}{verdict.tally}"] if verdict.tally else lines


def _row(label: str, text: str) -> str:
    return f"{label:<14}{text}"


def _findings(findings: list[Finding], width: int) -> list[str]:
    lines: list[str] = []
    for finding in findings:
        lead = f"{SEVERITIES[finding.severity]:<6}{finding.certainty:>4.0%}  "
        lines += textwrap.wrap(finding.text, width, initial_indent=lead, subsequent_indent=" " * 12)
        if finding.severity != "note":
            lines += textwrap.wrap(
                "Check next: " + finding.check_next, width, initial_indent=" " * 12, subsequent_indent=" " * 12
            )
    return [*lines, ""] if lines else []


def _channel(name: str, channel: ChannelResult, width: int, *, everything: bool) -> Iterator[str]:
    span = (channel.first_s or 0.0, channel.last_s or 0.0)
    yield f"── {name} ".ljust(width, "─")
    yield from _findings(channel.findings, width)
    yield _row("Bit rate", f"{rate_words(channel)}     {channel.frames:,} frames in {span[1] - span[0]:.1f} s")
    yield from _load(channel, width)
    yield from textwrap.wrap(_row("Error frames", error_words(channel)), width, subsequent_indent=" " * 14)
    yield ""
    yield from _who(channel, span, width, everything=everything)
    yield from _codes(channel, width, everything=everything)
    yield from _sensors(channel, everything=everything)


def _load(channel: ChannelResult, width: int) -> Iterator[str]:
    load = channel.bus_load
    yield _row("Bus load", load_words(channel))
    if load.mean is not None and channel.meter is not None:
        yield _row("On a meter", meter_words(channel))
    if load.series is not None and len(load.series.mean) > 1:
        bars = columns(load.series.peak_100ms, width - 24, 4, 1.0)
        for label, bar in zip(("100 %", "", "", "  0 %"), bars, strict=True):
            yield f"{label:>12}  │{bar}"
        seconds = load.series.step_s * len(load.series.mean)
        yield f"{'':14}└{'─' * len(bars[0])}  {seconds:.0f} s"


def _who(channel: ChannelResult, span: tuple[float, float], width: int, *, everything: bool) -> Iterator[str]:
    if not channel.source_addresses:
        yield _row("Who talks", "no J1939 address heard")
        yield ""
        return
    cells = max(10, width - 66)
    yield _row("Who talks", f"and when: {TALKING} talks, {SILENT} silent")
    yield f"  hex dec  {'name':<24} {'frames':>9}  bits  longest gap  when"
    for source in channel.source_addresses:
        line = strip(source.first_s, source.last_s, silences_of(channel, source), span, cells)
        yield (
            f"  {source.address:02X} {source.address:>4}  {source.name[:24]:<24} {source.frames:>9,} "
            f"{source.share_of_bits:>5.0%} {source.longest_silence_s:>10.3f} s  {line}"
        )
        if everything:
            yield from _pgns(source)
    yield ""


def _pgns(source: SourceRow) -> Iterator[str]:
    for row in source.pgns:
        yield f"           PGN {row.pgn:<6} {row.name[:32]:<32} {row.frames:>8,}  {period_words(row)}"


def _codes(channel: ChannelResult, width: int, *, everything: bool) -> Iterator[str]:
    codes = channel.trouble_codes
    if not codes:
        return
    yield _row("Trouble codes", f"{len(codes)}; those about the network first")
    for row in codes if everything else codes[:_SHORT]:
        yield f"  {row.source_address:02X}  {code_words(row)}"[:width]
    if len(codes) > _SHORT and not everything:
        yield f"  ... and {len(codes) - _SHORT} more (--all lists them)"
    yield ""


def _sensors(channel: ChannelResult, *, everything: bool) -> Iterator[str]:
    rows = [(name, row) for name, row in channel.signals.items() if row.valid]
    if not rows:
        return
    yield f"{'Sensors':<32}{'first':>10}{'last':>10}{'lowest':>10}{'highest':>10}"
    for name, row in rows if everything else [item for item in rows if _telling(item[0])]:
        values = "".join(
            f"{value:>10.2f}" for value in (row.first, row.last, row.minimum, row.maximum) if value is not None
        )
        yield f"  {name:<30}{values} {row.unit}"
    yield ""


def _telling(name: str) -> bool:
    wanted = ("engine_speed", "coolant_temperature", "oil_pressure", "battery_potential", "barometric_pressure")
    return name.rsplit("@", 1)[0] in wanted
