"""What a colleague would say about a J1708 link: rules over the figures of a result. Common practice, no source."""

from __future__ import annotations

from collections.abc import Iterator

from linkcheck.j1708.messages import LONGEST_MESSAGE
from linkcheck.j1708.mids import TOOL_MIDS, mid_name
from linkcheck.j1708.result import Finding, LinkResult

__all__ = ["findings"]

_FEW_DAMAGED, _MANY_DAMAGED = 0.01, 0.1  # of all bursts
_BUSY = 0.7  # byte time alone; every message needs 12 to 26 idle bits in front of it as well
_SILENCE_S, _SILENCE_PERIODS = 2.0, 8.0


def findings(result: LinkResult) -> list[Finding]:
    """All findings, the worst first."""
    found = [finding for rule in _RULES for finding in rule(result)]
    order = {"fault": 0, "watch": 1, "note": 2}
    return sorted(found, key=lambda finding: (order[finding.severity], -finding.certainty))


def _nothing_readable(result: LinkResult) -> Iterator[Finding]:
    if result.bytes and not result.messages:
        held = result.damaged.get("held", 0)
        evidence = {"bytes": result.bytes, "damaged": result.damaged}
        if held > sum(result.damaged.values()) / 2:
            yield Finding(
                "held",
                "fault",
                0.8,
                "The pair is held in the driven state: only zero bytes arrive. A module drives it all the time, or F "
                "and G are swapped or shorted.",
                evidence,
                "F to A and G to A on volts: idle, F is above G. Unplug modules one at a time until it lets go.",
            )
        else:
            yield Finding(
                "no_message",
                "fault",
                0.7,
                "Bytes arrive but not one message: F and G are swapped at the adapter or at the connector, the pair is "
                "not a J1708 link at all (some trucks carry CAN on F and G), or noise drowns it.",
                evidence,
                "F to A and G to A on volts: idle, F is above G by more than 0.2 V. About 60 ohm between F and G with "
                "the battery off means a CAN pair.",
            )


def _damaged(result: LinkResult) -> Iterator[Finding]:
    bad = sum(result.damaged.values()) - result.collisions
    total = result.messages + sum(result.damaged.values())
    if not result.messages or not bad or bad / total < _FEW_DAMAGED:
        return
    many = bad / total > _MANY_DAMAGED
    yield Finding(
        "damaged_messages",
        "fault" if many else "watch",
        0.8,
        f"{bad} of {total} bursts are damaged. Noise, a chafed wire, a poor ground, or a resistor across the pair: "
        "J1708 has no terminators, and 100 ohm across it can stop it.",
        {"damaged": result.damaged, "messages": result.messages},
        "Ohms between F and G with the battery off: under some 100 ohm is wrong. Then wiggle the harness and watch.",
    )


def _collisions(result: LinkResult) -> Iterator[Finding]:
    if result.collisions:
        yield Finding(
            "collisions",
            "note",
            0.7,
            f"{result.collisions} lone bytes look like two senders that began together and both withdrew. That is how "
            "J1708 settles it; many of them mean a crowded link.",
            {"collisions": result.collisions},
            "",
        )


def _too_long(result: LinkResult) -> Iterator[Finding]:
    if result.too_long:
        yield Finding(
            "too_long",
            "note",
            0.9,
            f"{result.too_long} messages are longer than {LONGEST_MESSAGE} bytes, which is allowed only with the "
            "engine off and the vehicle at rest (programming, for instance).",
            {"too_long": result.too_long},
            "",
        )


def _busy(result: LinkResult) -> Iterator[Finding]:
    peak = result.bus_load.peak_1s
    if peak is not None and peak > _BUSY:
        yield Finding(
            "busy",
            "watch",
            0.8,
            f"In the worst second bytes fill {peak:.0%} of the time; with the idle time every message must wait, the "
            "link is full and messages of low priority come late.",
            {"peak_1s": peak},
            "See below who sends most; an added device may talk too much.",
        )


def _silences(result: LinkResult) -> Iterator[Finding]:
    for sender in result.senders:
        periods = [row.period_ms for row in sender.parameters if row.period_ms and row.count >= 5]
        if not periods or sender.mid in TOOL_MIDS:
            continue
        usual_s = min(periods) / 1e3
        if sender.longest_silence_s > max(_SILENCE_S, _SILENCE_PERIODS * usual_s):
            yield Finding(
                "fell_silent",
                "watch",
                0.7,
                f"{mid_name(sender.mid)} (MID {sender.mid}) was silent for {sender.longest_silence_s:.1f} s; it "
                f"usually speaks every {usual_s:.2f} s.",
                {"mid": sender.mid, "silence_s": sender.longest_silence_s, "usual_s": usual_s},
                "Its power, its ground, and its branch of the pair.",
            )


def _missing(result: LinkResult) -> Iterator[Finding]:
    heard = {sender.mid for sender in result.senders}
    for mid in result.expected:
        if mid not in heard and result.messages:
            yield Finding(
                "missing_sender",
                "fault",
                0.9,
                f"{mid_name(mid)} (MID {mid}) should be on this link and was not heard.",
                {"mid": mid},
                "Its power, its ground, and its branch of the pair.",
            )


def _fault_codes(result: LinkResult) -> Iterator[Finding]:
    for fault in result.faults:
        if fault.link:
            yield Finding(
                "link_code",
                "watch" if fault.active else "note",
                0.9,
                f"{mid_name(fault.mid)} (MID {fault.mid}) reports {'an active' if fault.active else 'a stored'} code "
                f"about a link: SID {fault.number} FMI {fault.fmi}, {fault.text}.",
                {"mid": fault.mid, "sid": fault.number, "fmi": fault.fmi, "active": fault.active},
                "Whoever reports it hears: look for a sender that is silent, or for the wires between.",
            )


_RULES = (_nothing_readable, _missing, _damaged, _busy, _silences, _fault_codes, _too_long, _collisions)
