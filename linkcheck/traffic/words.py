"""The figures of a result in words, for every face: the verdict, the tally, a line for each kind of row.

Values in, text out. How the lines are laid out is the faces' business (`page` for plain text, the app for screens).
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass

from linkcheck.traffic.result import ChannelResult, Finding, PgnRow, SourceRow, TrafficResult, TroubleCodeRow

__all__ = [
    "SEVERITIES",
    "Verdict",
    "all_findings",
    "code_words",
    "counted",
    "error_words",
    "evidence_rows",
    "load_words",
    "meter_words",
    "period_words",
    "rate_words",
    "shown_in",
    "silences_of",
    "verdict_of",
]

SEVERITIES = {"fault": "FAULT", "watch": "WATCH", "note": "NOTE"}
_SHOWN_ITEMS = 12  # of a long list in a finding's evidence
_CLOCK_S = 1e6  # a recorder's clock beyond this counts from some year, and its moments are told from the first frame


@dataclass(frozen=True, slots=True)
class Verdict:
    """The verdict on a capture.

    Attributes:
        severity: "fault", "watch", "sound", or "unknown" where nothing can be said.
        text: in a sentence.
        tally: how many findings of which kind, and addresses.

    """

    severity: str
    text: str
    tally: str


def all_findings(result: TrafficResult) -> list[tuple[str, Finding]]:
    """Every finding with its channel ("" for the capture's own), worst first within a channel."""
    own = [("", finding) for finding in result.findings]
    return own + [(name, finding) for name, channel in result.channels.items() for finding in channel.findings]


def verdict_of(result: TrafficResult) -> Verdict:
    """The verdict: what is wrong, or that nothing is."""
    if not result.channels:
        return Verdict("unknown", "No frames: nothing can be said about this bus.", "")
    found = [finding for channel in result.channels.values() for finding in channel.findings]
    counts = {severity: sum(each.severity == severity for each in found) for severity in SEVERITIES}
    heard = sum(len(channel.source_addresses) for channel in result.channels.values())
    tally = (
        f"{counted(counts['fault'], 'fault')}, {counts['watch']} to watch, {counted(counts['note'], 'note')}; "
        f"{counted(heard, 'address', 'es')} heard"
    )
    if counts["fault"]:
        worst = next(each for each in found if each.severity == "fault")
        return Verdict("fault", f"Something is wrong: {_first_sentence(worst.text)}", tally)
    if counts["watch"]:
        return Verdict("watch", "The bus works; some things deserve a look.", tally)
    if heard:
        return Verdict("sound", "The bus looks sound.", tally)
    return Verdict("unknown", "Nothing wrong was found, and no J1939 address was heard.", tally)


def _first_sentence(text: str) -> str:
    head = re.split(r"[.;] ", text, maxsplit=1)[0]
    return head if head.endswith(".") else head + "."


def counted(number: int, noun: str, plural: str = "s") -> str:
    """As in "1 fault", "3 faults"."""
    return f"{number} {noun}{'' if number == 1 else plural}"


def rate_words(channel: ChannelResult) -> str:
    """The bit rate, and how it is known."""
    rate = channel.bit_rate
    sure = f", {rate.confidence:.0%} sure" if rate.basis == "measured" else ""
    return f"{rate.value / 1000:g} kbit/s ({rate.basis}{sure})"


def load_words(channel: ChannelResult) -> str:
    """Mean load and the worst moments."""
    load = channel.bus_load
    if load.mean is None or load.peak_1s is None or load.peak_100ms is None:
        return "cannot be reckoned: the capture has no time stamps"
    return f"mean {load.mean:.1%}   worst second {load.peak_1s:.1%}   worst 100 ms {load.peak_100ms:.1%}"


def meter_words(channel: ChannelResult) -> str:
    """What a meter on the pair should read on this very traffic; empty where that cannot be said."""
    meter = channel.meter
    if meter is None:
        return ""
    volts = f"C to A {meter.can_high_v:.2f} V   D to A {meter.can_low_v:.2f} V   C to D {meter.difference_v:.2f} V"
    return f"{volts}   (dominant {channel.dominant_share:.1%})"


def error_words(channel: ChannelResult) -> str:
    """Error frames in a line."""
    errors = channel.error_frames
    if not errors.total:
        return "none recorded (not every recorder reports them)"
    kinds = ", ".join(f"{name} {count:,}" for name, count in list(errors.by_class.items())[:4])
    counters = f"; counters up to TEC {errors.tx_errors_max or 0}, REC {errors.rx_errors_max or 0}"
    return f"{errors.total:,} ({kinds}){counters if errors.tx_errors_max or errors.rx_errors_max else ''}"


def silences_of(channel: ChannelResult, source: SourceRow) -> list[tuple[float, float]]:
    """When an address was silent for longer than chance explains, (from, to) in seconds."""
    end = channel.last_s or 0.0
    return [
        (spell.start_s, end if spell.end_s is None else spell.end_s)
        for spell in channel.silence.spells
        if spell.address == source.address
    ]


def period_words(row: PgnRow) -> str:
    """How regular a PGN is."""
    period = "-" if row.period_ms is None else f"{row.period_ms:.1f} ±{row.jitter_ms:.1f} ms"
    return f"{period}  missed {row.missed}" if row.missed else period


def code_words(row: TroubleCodeRow) -> str:
    """A trouble code in a line, without its address."""
    state = "active" if row.active else "stored"
    count = "" if row.count is None else f" ×{row.count}"
    mark = "network" if row.network else ""
    return f"SPN {row.spn:<6} FMI {row.fmi:<3} {state} {mark:<7}{count:>5}  {row.text}"


def evidence_rows(finding: Finding, zero_s: float = 0.0) -> Iterator[tuple[str, str]]:
    """A finding's figures: what, and how much; lists are cut after some items.

    Args:
        finding: whose.
        zero_s: the recording's first moment by its own clock; moments are told from there.

    """
    for name, value in finding.evidence.items():
        yield name.replace("_", " "), _figure(value, zero_s)


# Where a face shows the figures a finding rests on, by what its evidence names.
_SHOWN_IN = {
    "who": ("spells", "times", "since_s"),
    "errors": ("error_frames", "status", "overflows", "unacknowledged"),
    "codes": ("codes",),
    "sensors": ("signal",),
    "addresses": ("address", "missing", "unexpected", "messages", "requester", "identifiers", "name", "pgns"),
}


def shown_in(finding: Finding) -> str:
    """Which part of the result shows it: "who", "errors", "codes", "sensors", "addresses" or "load"."""
    return next((part for part, names in _SHOWN_IN.items() if any(each in finding.evidence for each in names)), "load")


def _figure(value: object, zero_s: float) -> str:
    if isinstance(value, bool) or value is None:
        return {True: "yes", False: "no", None: "not known"}[value]
    if isinstance(value, dict):
        return ", ".join(f"{key}: {_figure(each, zero_s)}" for key, each in list(value.items())[:_SHOWN_ITEMS])
    if isinstance(value, list | tuple):
        flat = not any(isinstance(each, list | tuple) for each in value)
        told = (", " if flat else "; ").join(_figure(each, zero_s) for each in list(value)[:_SHOWN_ITEMS])
        return told + (f" and {len(value) - _SHOWN_ITEMS} more" if len(value) > _SHOWN_ITEMS else "")
    if isinstance(value, float):
        moment = value >= zero_s > _CLOCK_S
        text = f"{value - zero_s if moment else value:,.3f}".rstrip("0").rstrip(".")
        return f"at {text} s" if moment else text
    return f"{value:,}" if isinstance(value, int) and abs(value) >= 100_000 else str(value)
