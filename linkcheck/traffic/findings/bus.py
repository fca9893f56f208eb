"""Findings about the bus as a whole: load, bit rate, error frames, who floods it."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from linkcheck.frames.bit_timing import J1939_USUAL
from linkcheck.j1939.messages import ADDRESS_CLAIM
from linkcheck.traffic.options import Options
from linkcheck.traffic.result import ChannelResult, Finding, SourceRow

if TYPE_CHECKING:
    from linkcheck.traffic.channel import ChannelAnalysis

__all__ = ["RULES"]

ADVISED_MEAN_LOAD = 0.40  # common practice, no source: keep the mean at or below it
CROWDED_SECOND = 0.80  # our own judgement: lower-priority messages wait noticeably
FULL_SECOND = 0.98
_FLOOD_SHARE = 0.30
_FLOOD_PERIOD_MS = 4.0
_SURE_RATE = 0.6
_MEETING_GAP = "unplug added devices one at a time and watch the load"


def only_errors(_: ChannelAnalysis, result: ChannelResult, __: Options) -> Iterator[Finding]:
    """Error frames and nothing else."""
    if result.error_frames.total and not result.kinds.data and not _mostly_unacknowledged(result):
        yield Finding(
            "errors_only",
            "fault",
            0.95,
            f"{result.error_frames.total:,} error frames and not one good frame: the recorder listened at the wrong bit "
            "rate, or the pair is swapped, shorted, or held by a module.",
            "Listen at the other bit rate (250k, 500k); then volts C to A and D to A, and ohms C to D with the "
            "batteries disconnected.",
            {"error_frames": result.error_frames.total},
        )


def load(_: ChannelAnalysis, result: ChannelResult, __: Options) -> Iterator[Finding]:
    """More on the bus than it should carry."""
    mean, second = result.bus_load.mean, result.bus_load.peak_1s
    if mean is None or second is None:
        return
    evidence = {"mean": mean, "peak_1s": second, "peak_1s_at_s": result.bus_load.peak_1s_at_s}
    if mean > 1.02:
        yield Finding(
            "impossible_load",
            "fault",
            0.97,
            f"At {result.bit_rate.value:,} bit/s the bus would be {mean:.0%} full, which cannot be: the bit rate is higher.",
            "Give the right bit rate, or leave it out and let it be measured.",
            evidence,
        )
    elif second >= FULL_SECOND:
        yield Finding(
            "bus_full",
            "fault",
            0.95,
            f"In the worst second the bus was {min(second, 1):.0%} full (mean {mean:.1%}). Whatever has low priority does "
            "not get through then.",
            f"See who floods the bus; {_MEETING_GAP}.",
            evidence,
        )
    elif second >= CROWDED_SECOND:
        yield Finding(
            "bus_crowded",
            "watch",
            0.9,
            f"The worst second carried {second:.1%} of what the bus can (mean {mean:.1%}): messages of low priority "
            "wait.",
            f"See who sends most; {_MEETING_GAP}.",
            evidence,
        )
    elif mean > ADVISED_MEAN_LOAD:
        yield Finding(
            "load_above_advice",
            "watch",
            0.9,
            f"The mean load is {mean:.1%}; common practice keeps it at 40 % or less (no published source).",
            "See which address sends most, and whether a device was added.",
            evidence,
        )


def flood(_: ChannelAnalysis, result: ChannelResult, __: Options) -> Iterator[Finding]:
    """One address that takes the bus for itself."""
    for source in result.source_addresses:
        # A claim repeated without a pause is the mark of a lone sender, told elsewhere.
        rows = [r for r in source.pgns if r.period_ms and r.period_ms < _FLOOD_PERIOD_MS and r.pgn != ADDRESS_CLAIM]
        row = max(rows, key=lambda r: r.frames, default=None)
        share = 0.0 if row is None else source.share_of_bits * row.frames / source.frames
        if row is not None and share > _FLOOD_SHARE:
            yield Finding(
                "flood",
                "fault",
                0.95,
                f"Address {_who(source)} sends PGN {row.pgn} ({row.name}) every {row.period_ms:.2f} ms, "
                f"{row.frames:,} times: {share:.0%} of all bits on the bus. No module has reason to.",
                f"Unplug what answers to address {source.address} and see whether the load falls; look for an added "
                "device first.",
                {"address": source.address, "pgn": row.pgn, "period_ms": row.period_ms, "share_of_bits": share},
            )


def bit_rate(_: ChannelAnalysis, result: ChannelResult, __: Options) -> Iterator[Finding]:
    """The claimed rate against the one the stamps show."""
    rate = result.bit_rate
    if rate.basis == "given" and rate.measured not in (None, rate.value) and rate.measured_confidence >= _SURE_RATE:
        yield Finding(
            "bit_rate_claim",
            "fault",
            rate.measured_confidence,
            f"The bit rate was given as {rate.value:,} bit/s, but the time between frames sent back to back shows "
            f"{rate.measured:,} bit/s.",
            f"Set the adapter and this analysis to {rate.measured:,} bit/s.",
            {"given": rate.value, "measured": rate.measured, "confidence": rate.measured_confidence},
        )
    if rate.basis == "assumed" and result.kinds.data:
        yield Finding(
            "bit_rate_assumed",
            "note",
            1.0,
            f"The capture does not show its bit rate; {rate.value:,} bit/s is assumed, and loads hang on it.",
            "Give the bit rate if you know it (250,000 for a black or grey connector, 500,000 for a green one).",
            {"assumed": rate.value},
        )


def clock(_: ChannelAnalysis, result: ChannelResult, __: Options) -> Iterator[Finding]:
    """Bits that are longer or shorter than the rate asks."""
    off, tolerance = result.bit_rate.clock_off, J1939_USUAL.clock_tolerance
    if off is not None and abs(off) > tolerance:
        yield Finding(
            "clock_off",
            "watch",
            0.7,
            f"By the recorder's clock the bits are {abs(off):.2%} too {'short' if off > 0 else 'long'}. Controllers with "
            f"the usual sample point bear {tolerance:.2%} between any two of them.",
            "Record with another interface first: its clock may be the wrong one.",
            {"clock_off": off, "tolerance": tolerance},
        )


def nobody_acknowledges(_: ChannelAnalysis, result: ChannelResult, __: Options) -> Iterator[Finding]:
    """Acknowledgement errors."""
    count = result.error_frames.by_class.get("no acknowledgement", 0)
    if _mostly_unacknowledged(result):
        senders = len(result.source_addresses)
        yield Finding(
            "no_acknowledgement",
            "fault",
            0.9 if senders <= 1 else 0.75,
            f"{count:,} frames were not acknowledged by anyone. Whoever sent them is alone on its piece of the bus: "
            "everyone else is off, cut away, or listens at another bit rate.",
            "Check that the other modules have power with the key on; then ohms C to D: 120 instead of 60 means the "
            "backbone is open.",
            {"unacknowledged": count, "addresses_heard": senders},
        )


def error_states(_: ChannelAnalysis, result: ChannelResult, __: Options) -> Iterator[Finding]:
    """Error frames: how many, where, around whom, and how far the controller went."""
    errors = result.error_frames
    if not errors.total or not result.kinds.data:
        return
    states = [row.state for row in errors.states]
    worst = next((s for s in ("bus-off", "error-passive", "error-warning") if s in states), None)
    who = next(iter(errors.surrounding.items()), None)
    around = ""
    if who and len(errors.surrounding) > 1 and who[1] > 0.6 * errors.total:
        around = f" Most stand right before frames of address {who[0]}."
    elif len(errors.surrounding) > 2:
        around = " They stand before frames of every address, so the cause is the pair, not one module."
    went = "" if worst is None else f" The recorder's controller went to {worst} at {_first(result, worst):.1f} s."
    place = next(iter(errors.by_location), None)
    where = f" Most often at: {place}." if place else ""
    per_second = errors.total / max((result.last_s or 0) - (result.first_s or 0), 0.001)
    yield Finding(
        {"bus-off": "bus_off", "error-passive": "error_passive"}.get(worst or "", "error_frames"),
        "fault" if worst in ("bus-off", "error-passive") or per_second > 1 else "watch",
        0.95,
        f"{errors.total:,} error frames, {per_second:.2g} a second.{went}{where}{around}",
        "Ohms C to D with the batteries disconnected (60 two terminators, 120 one missing); then wiggle the harness "
        "and watch the error rate.",
        {
            "error_frames": errors.total,
            "per_second": per_second,
            "worst_state": worst,
            "surrounding": errors.surrounding,
        },
    )


def transceiver(_: ChannelAnalysis, result: ChannelResult, __: Options) -> Iterator[Finding]:
    """The transceiver itself says what is wrong with the wires."""
    for status, count in result.error_frames.by_transceiver.items():
        yield Finding(
            "transceiver_status",
            "fault",
            0.9,
            f"The recorder's transceiver reports {status} ({count:,} times).",
            "Volts and ohms at C and D against A settle it.",
            {"status": status, "count": count},
        )


def overflow(_: ChannelAnalysis, result: ChannelResult, __: Options) -> Iterator[Finding]:
    """The recorder itself could not keep up."""
    count = result.error_frames.by_controller.get("receive buffer overflow", 0)
    if count:
        yield Finding(
            "recorder_overflow",
            "watch",
            0.95,
            f"The recorder's receive buffer overflowed {count:,} times: frames are missing from this capture, and a "
            "silence at such a moment may be the recorder's.",
            "Record again with a faster interface or computer.",
            {"overflows": count},
        )


def _mostly_unacknowledged(result: ChannelResult) -> bool:
    errors = result.error_frames
    return errors.by_class.get("no acknowledgement", 0) * 4 > errors.total


def _first(result: ChannelResult, state: str) -> float:
    return next(row.at_s for row in result.error_frames.states if row.state == state) - (result.first_s or 0)


def _who(source: SourceRow) -> str:
    return f"{source.address} ({source.name})"


RULES = (only_errors, load, flood, bit_rate, clock, nobody_acknowledges, error_states, transceiver, overflow)
