"""The readable page of `linkcheck replay`: verdict first, then the figures behind it. Values in, one string out."""

from __future__ import annotations

import re
import textwrap
from collections.abc import Iterator

from linkcheck.cli.plots import SILENT, TALKING, columns, strip
from linkcheck.traffic.result import ChannelResult, Finding, SourceRow, TrafficResult

__all__ = ["page"]

_WORDS = {"fault": "FAULT", "watch": "WATCH", "note": "NOTE"}
_SHORT = 6  # rows of a table before "and more", unless everything is asked for


def page(result: TrafficResult, width: int, *, everything: bool = False) -> str:
    """The whole answer as text, `width` columns wide."""
    lines = [_headline(result), "═" * width]
    found = [finding for channel in result.channels.values() for finding in channel.findings]
    lines += [*_verdict(result, found, width), ""]
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


def _verdict(result: TrafficResult, found: list[Finding], width: int) -> list[str]:
    if not result.channels:
        return ["VERDICT  No frames: nothing can be said about this bus."]
    counts = {word: sum(f.severity == key for f in found) for key, word in _WORDS.items()}
    heard = sum(len(channel.source_addresses) for channel in result.channels.values())
    if counts["FAULT"]:
        worst = next(f for f in found if f.severity == "fault")
        head = f"VERDICT  Something is wrong: {_first_sentence(worst.text)}"
    elif counts["WATCH"]:
        head = "VERDICT  The bus works; some things deserve a look."
    elif heard:
        head = "VERDICT  The bus looks sound."
    else:
        head = "VERDICT  Nothing wrong was found, and no J1939 address was heard."
    tally = f"{_count(counts['FAULT'], 'fault')}, {counts['WATCH']} to watch, {_count(counts['NOTE'], 'note')}"
    return [
        *textwrap.wrap(head, width, subsequent_indent=" " * 9),
        f"{'':9}{tally}; {_count(heard, 'address', 'es')} heard",
    ]


def _first_sentence(text: str) -> str:
    head = re.split(r"[.;] ", text, maxsplit=1)[0]
    return head if head.endswith(".") else head + "."


def _count(number: int, noun: str, plural: str = "s") -> str:
    return f"{number} {noun}{'' if number == 1 else plural}"


def _row(label: str, text: str) -> str:
    return f"{label:<14}{text}"


def _findings(findings: list[Finding], width: int) -> list[str]:
    lines: list[str] = []
    for finding in findings:
        lead = f"{_WORDS[finding.severity]:<6}{finding.certainty:>4.0%}  "
        lines += textwrap.wrap(finding.text, width, initial_indent=lead, subsequent_indent=" " * 12)
        if finding.severity != "note":
            lines += textwrap.wrap(
                "Check next: " + finding.check_next, width, initial_indent=" " * 12, subsequent_indent=" " * 12
            )
    return [*lines, ""] if lines else []


def _channel(name: str, channel: ChannelResult, width: int, *, everything: bool) -> Iterator[str]:
    span = (channel.first_s or 0.0, channel.last_s or 0.0)
    rate = channel.bit_rate
    sure = f", {rate.confidence:.0%} sure" if rate.basis == "measured" else ""
    yield f"── {name} ".ljust(width, "─")
    yield from _findings(channel.findings, width)
    length = f"{channel.frames:,} frames in {span[1] - span[0]:.1f} s"
    yield _row("Bit rate", f"{rate.value / 1000:g} kbit/s ({rate.basis}{sure})     {length}")
    yield from _load(channel, width)
    yield from _errors(channel, width)
    yield ""
    yield from _who(channel, span, width, everything=everything)
    yield from _codes(channel, width, everything=everything)
    yield from _sensors(channel, everything=everything)


def _load(channel: ChannelResult, width: int) -> Iterator[str]:
    load = channel.bus_load
    if load.mean is None or load.peak_1s is None or load.peak_100ms is None:
        yield _row("Bus load", "cannot be reckoned: the capture has no time stamps")
        return
    figures = f"mean {load.mean:.1%}   worst second {load.peak_1s:.1%}   worst 100 ms {load.peak_100ms:.1%}"
    yield _row("Bus load", figures)
    if channel.meter is not None:
        meter = channel.meter
        volts = f"C to A {meter.can_high_v:.2f} V   D to A {meter.can_low_v:.2f} V   C to D {meter.difference_v:.2f} V"
        yield _row("On a meter", f"{volts}   (dominant {channel.dominant_share:.1%})")
    if load.series is not None and len(load.series.mean) > 1:
        bars = columns(load.series.peak_100ms, width - 24, 4, 1.0)
        for label, bar in zip(("100 %", "", "", "  0 %"), bars, strict=True):
            yield f"{label:>12}  │{bar}"
        seconds = load.series.step_s * len(load.series.mean)
        yield f"{'':14}└{'─' * len(bars[0])}  {seconds:.0f} s"


def _errors(channel: ChannelResult, width: int) -> list[str]:
    errors = channel.error_frames
    if not errors.total:
        return [_row("Error frames", "none recorded (not every recorder reports them)")]
    kinds = ", ".join(f"{name} {count:,}" for name, count in list(errors.by_class.items())[:4])
    counters = f"; counters up to TEC {errors.tx_errors_max or 0}, REC {errors.rx_errors_max or 0}"
    text = f"{errors.total:,} ({kinds}){counters if errors.tx_errors_max or errors.rx_errors_max else ''}"
    return textwrap.wrap(_row("Error frames", text), width, subsequent_indent=" " * 14)


def _who(channel: ChannelResult, span: tuple[float, float], width: int, *, everything: bool) -> Iterator[str]:
    if not channel.source_addresses:
        yield _row("Who talks", "no J1939 address heard")
        yield ""
        return
    cells = max(10, width - 66)
    yield _row("Who talks", f"and when: {TALKING} talks, {SILENT} silent")
    yield f"  hex dec  {'name':<24} {'frames':>9}  bits  longest gap  when"
    for source in channel.source_addresses:
        silences = [
            (s.start_s, span[1] if s.end_s is None else s.end_s)
            for s in channel.silence.spells
            if s.address == source.address
        ]
        line = strip(source.first_s, source.last_s, silences, span, cells)
        yield (
            f"  {source.address:02X} {source.address:>4}  {source.name[:24]:<24} {source.frames:>9,} "
            f"{source.share_of_bits:>5.0%} {source.longest_silence_s:>10.3f} s  {line}"
        )
        if everything:
            yield from _pgns(source)
    yield ""


def _pgns(source: SourceRow) -> Iterator[str]:
    for row in source.pgns:
        period = "-" if row.period_ms is None else f"{row.period_ms:.1f} ±{row.jitter_ms:.1f} ms"
        missed = f"  missed {row.missed}" if row.missed else ""
        yield f"           PGN {row.pgn:<6} {row.name[:32]:<32} {row.frames:>8,}  {period}{missed}"


def _codes(channel: ChannelResult, width: int, *, everything: bool) -> Iterator[str]:
    codes = channel.trouble_codes
    if not codes:
        return
    yield _row("Trouble codes", f"{len(codes)}; those about the network first")
    for row in codes if everything else codes[:_SHORT]:
        state = "active" if row.active else "stored"
        count = "" if row.count is None else f" ×{row.count}"
        mark = "network" if row.network else ""
        who = f"  {row.source_address:02X}  SPN {row.spn:<6} FMI {row.fmi:<3}"
        yield f"{who} {state} {mark:<7}{count:>5}  {row.text}"[:width]
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
