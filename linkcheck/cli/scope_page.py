"""The readable page of `linkcheck edges --scope`: verdict and findings, levels, senders, plot, frames."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Sequence

import numpy as np

from linkcheck.cli.trace_plot import trace_plot
from linkcheck.physical.edges import DOMINANT_VOLTS, RECESSIVE_VOLTS
from linkcheck.physical.levels import Level
from linkcheck.traffic.result import Finding
from linkcheck.verdict.waveform import FrameRow, SenderRow, WaveformReading

__all__ = ["page"]

WORDS = {"fault": "FAULT", "watch": "WATCH", "note": "NOTE"}
LABEL = 14
PLOT_LINES = 9
SHOWN_BITS = 14
MOST_FRAMES = 12


def page(path: str, reading: WaveformReading, findings: Sequence[Finding], notes: Sequence[str], width: int) -> str:
    """The whole answer as text, `width` columns wide."""
    wave = reading.wave
    head = (
        f"{path}   {len(wave.high_volts):,} samples, {wave.step_s * 1e9:.4g} ns apart, {wave.length_s * 1e3:.4g} ms, "
        f"{len(reading.frames)} frames"
    )
    lines = [*textwrap.wrap(head, width), "═" * width, *_findings(findings, width), "", *_levels(reading, width), ""]
    lines += [*_plot(reading, width), "", *_senders(reading), *_frames(reading, width)]
    for note in notes:
        lines += textwrap.wrap(f"Note: {note}", width, subsequent_indent="      ")
    return "\n".join(line.rstrip() for line in lines).rstrip()


def _findings(findings: Sequence[Finding], width: int) -> Iterator[str]:
    worst = findings[0].severity if findings else "note"
    verdict = {
        "fault": "Something is wrong on this bus.",
        "watch": "The bus works here; some things deserve a look.",
        "note": "The bus looks sound here.",
    }
    yield f"VERDICT  {verdict[worst]}"
    for finding in findings:
        lead = f"{WORDS[finding.severity]:<6}{finding.certainty:>4.0%}  "
        yield from textwrap.wrap(finding.text, width, initial_indent=lead, subsequent_indent=" " * 12)
        if finding.check_next:
            yield from textwrap.wrap(
                f"Check next: {finding.check_next}", width, initial_indent=" " * 12, subsequent_indent=" " * 12
            )


def _levels(reading: WaveformReading, width: int) -> Iterator[str]:
    if reading.bit_rate and reading.nominal_bit_rate:
        off = reading.bit_rate / reading.nominal_bit_rate - 1.0
        yield f"{'Bit rate':<{LABEL}}{reading.nominal_bit_rate / 1e3:g} kbit/s, measured {off:+.3%} off"
    elif reading.bit_rate:
        yield f"{'Bit rate':<{LABEL}}not certain; edges fit {reading.bit_rate / 1e3:.1f} kbit/s"
    else:
        yield f"{'Bit rate':<{LABEL}}too few edges to tell"
    yield f"{'':<{LABEL}}{'CAN high':>10}{'CAN low':>10}{'apart':>10}{'middle':>10}"
    for label, level in (("At rest", reading.recessive), ("Driven", reading.dominant)):
        if level is not None:
            yield f"{label:<{LABEL}}{_level(level)}"
    fall = reading.fall
    if fall is not None:
        decay = f"{fall.decay_s * 1e6:.2f} µs" if np.isfinite(fall.decay_s) else "longer than seen"
        ring = f"comes up again to {fall.ring_volts:.2f} V" if fall.ring_volts else "does not come up again"
        text = f"{'Decay':<{LABEL}}{decay} from 90 % of {fall.driven_volts:.2f} V to 0.5 V for good; {ring}"
        yield from textwrap.wrap(text, width, subsequent_indent=" " * LABEL)
    if reading.terminators:
        odds = "  ".join(f"{count} {share:.0%}" for count, share in reading.terminators.items())
        yield f"{'Terminators':<{LABEL}}{odds}"


def _level(level: Level) -> str:
    values = (level.high_volts, level.low_volts, level.difference_volts, level.common_volts)
    return "".join(f"{value:>8.2f} V" for value in values)


def _senders(reading: WaveformReading) -> Iterator[str]:
    if not reading.senders:
        return
    yield f"{'Sender':<30}{'frames':>8}{'CAN high':>10}{'CAN low':>10}{'apart':>8}{'answered':>10}"
    for row in reading.senders:
        answer = f"{row.answer.difference_volts:.2f} V" if row.answer else "-"
        level = row.dominant
        yield (
            f"{_who(row)[:29]:<30}{row.frames:>8}{level.high_volts:>8.2f} V{level.low_volts:>8.2f} V"
            f"{level.difference_volts:>6.2f} V{answer:>10}"
        )
    yield "Answered: the lines apart in the ACK slot, where all the others drive together."
    yield ""


def _who(row: SenderRow) -> str:
    return row.name if row.address is None else f"{row.address} {row.name}"


def _frames(reading: WaveformReading, width: int) -> Iterator[str]:
    if not reading.frames:
        return
    yield f"{'Frames':<12}{'identifier':>12}  {'data':<24}  CRC"
    for frame in reading.frames[:MOST_FRAMES]:
        yield _frame(frame)[:width]
    if len(reading.frames) > MOST_FRAMES:
        yield f"  ... and {len(reading.frames) - MOST_FRAMES} more (--json has them all)"
    yield ""


def _frame(frame: FrameRow) -> str:
    identifier = f"{frame.identifier:08X}" if frame.extended else f"{frame.identifier:03X}"
    data = "remote" if frame.remote else frame.data.hex(" ").upper()
    state = f"{frame.crc:04X} good" if not frame.problem else ("cut by the trace's end" if frame.cut else frame.problem)
    return f"{frame.at_s * 1e3:>9.4f} ms{identifier:>12}  {data:<24}  {state}"


def _plot(reading: WaveformReading, width: int) -> list[str]:
    """The beginning of the first frame, or of whatever there is."""
    wave = reading.wave
    first = reading.frames[0].at_s - wave.start_s if reading.frames else 0.0
    span = SHOWN_BITS / reading.bit_rate if reading.bit_rate else wave.length_s
    start = max(0, int((first - 0.5 * span / SHOWN_BITS) / wave.step_s))
    part = wave.difference[start : start + max(2, int(span / wave.step_s))]
    return [
        "CAN high less CAN low",
        *trace_plot(part, wave.step_s, min(width, 100), PLOT_LINES, (DOMINANT_VOLTS, RECESSIVE_VOLTS)),
    ]
