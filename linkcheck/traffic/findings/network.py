"""Findings about protocol matters: network trouble codes, address claims, requests, transport, 11-bit traffic."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from linkcheck.j1939.addresses import address_name
from linkcheck.j1939.network_codes import NETWORK_SPNS
from linkcheck.j1939.transport_events import GAP_FAULT_NS, GAP_NOTE_NS
from linkcheck.traffic.options import Options
from linkcheck.traffic.result import ChannelResult, Finding

if TYPE_CHECKING:
    from linkcheck.traffic.channel import ChannelAnalysis

__all__ = ["RULES"]


def network_codes(_: ChannelAnalysis, result: ChannelResult, __: Options) -> Iterator[Finding]:
    """Trouble codes that speak about the network."""
    codes = [row for row in result.trouble_codes if row.network is not None and row.active]
    reporters = sorted({row.source_address for row in codes})
    if codes:
        shown = ", ".join(f"SPN {row.spn} FMI {row.fmi} from {row.source_address}" for row in codes[:6])
        meanings = list(dict.fromkeys(row.network for row in codes if row.network))
        yield Finding(
            "network_codes",
            "fault" if any(row.spn in NETWORK_SPNS for row in codes) else "watch",
            0.85,
            f"{len(codes)} active codes speak about the network ({shown}). {meanings[0]}",
            f"The reporters ({', '.join(f'{a} {address_name(a)}' for a in reporters)}) are not the suspects: look for "
            "who is missing from the list of addresses.",
            {"codes": [[row.source_address, row.spn, row.fmi, row.count] for row in codes], "meanings": meanings},
        )


def other_codes(_: ChannelAnalysis, result: ChannelResult, __: Options) -> Iterator[Finding]:
    """Codes that have nothing to do with the link."""
    codes = [row for row in result.trouble_codes if row.network is None and row.active]
    if codes:
        shown = "; ".join(f"SPN {r.spn} FMI {r.fmi} from {r.source_address} ({r.text})" for r in codes[:3])
        yield Finding(
            "other_codes",
            "note",
            1.0,
            f"{len(codes)} other active trouble codes: {shown}{' ...' if len(codes) > 3 else ''}.",
            "Nothing to check at the connector for these.",
            {"codes": [[row.source_address, row.spn, row.fmi, row.count] for row in codes]},
        )


def claims(channel: ChannelAnalysis, _: ChannelResult, __: Options) -> Iterator[Finding]:
    """Claims lost, and claims that nobody hears."""
    for lost in channel.messages.claims.cannot_claim():
        yield Finding(
            "cannot_claim",
            "fault",
            0.95,
            f"A device (NAME {lost.name.value:016X}, function {lost.name.function}) says it cannot get an address: "
            "another device holds the one it needs.",
            "Look for two devices of the same kind; an added one is the first suspect.",
            {"name": f"{lost.name.value:016X}", "count": lost.count},
        )
    for claim in channel.messages.claims.claims():
        if claim.unacknowledged:
            yield Finding(
                "claim_unheard",
                "fault",
                0.9,
                f"Address {claim.address} ({address_name(claim.address)}) repeats its address claim "
                f"{claim.longest_run} times without a pause: nobody acknowledges, it is alone on its piece of the bus.",
                "Check that other modules are powered with the key on; then ohms C to D for an open backbone.",
                {"address": claim.address, "run": claim.longest_run},
            )


def unanswered(_: ChannelAnalysis, result: ChannelResult, __: Options) -> Iterator[Finding]:
    """Requests without an answer."""
    heard = {source.address for source in result.source_addresses}
    for row in result.requests:
        if not row.unanswered:
            continue
        silent = row.destination not in heard
        yield Finding(
            "request_unanswered",
            "fault" if silent else "note",
            0.8 if silent else 0.6,
            f"Address {row.destination} ({address_name(row.destination)}) left {row.unanswered} of {row.requests} "
            f"requests for PGN {row.pgn} ({row.name}) from address {row.requester} unanswered"
            + (", and sends nothing else either." if silent else "; it talks otherwise."),
            "Check that module's power, ground and stub." if silent else "It may simply not know this group.",
            {"requester": row.requester, "destination": row.destination, "pgn": row.pgn, "unanswered": row.unanswered},
        )


def transport(_: ChannelAnalysis, result: ChannelResult, __: Options) -> Iterator[Finding]:
    """Multi-packet messages that failed, or came too fast."""
    summary = result.transport
    failed = summary.aborted + summary.timed_out
    if failed:
        reasons = ", ".join(f"{text} ({count})" for text, count in summary.abort_reasons.items())
        yield Finding(
            "transport_failed",
            "watch",
            0.8,
            f"Multi-packet messages broken off: {failed} ({summary.aborted} aborted, {summary.timed_out} timed out); "
            f"{summary.completed} came through.{f' Reasons given: {reasons}.' if reasons else ''}",
            "See whether they fail when the load is high or when an address falls silent.",
            {"aborted": summary.aborted, "timed_out": summary.timed_out, "completed": summary.completed},
        )
    gap = summary.shortest_bam_gap_ms
    if gap is not None and gap * 1e6 < GAP_NOTE_NS:
        fast = gap * 1e6 < GAP_FAULT_NS
        yield Finding(
            "bam_too_fast",
            "watch" if fast else "note",
            0.8,
            f"Packets of a broadcast message follow within {gap:.1f} ms; SAE J1939-21 asks for 50 ms, ISO 11783-3 for 10.",
            "Slow receivers lose such messages; a code list may then look empty on one tool and full on another.",
            {"shortest_ms": gap},
        )


def standard_traffic(channel: ChannelAnalysis, result: ChannelResult, __: Options) -> Iterator[Finding]:
    """11-bit identifiers beside the J1939 traffic, or 29-bit ones written short."""
    if not result.standard_identifiers:
        return
    frames = sum(row.frames for row in result.standard_identifiers)
    judged = channel.mislabelled.share(result.bit_rate.value)
    if judged is not None and judged[0] > 0.8:
        yield Finding(
            "identifiers_cut_short",
            "watch",
            judged[0],
            f"{frames:,} frames are written with three-digit identifiers, but {judged[0]:.0%} of the {judged[1]:,} that "
            "could be timed took as long on the wire as 29-bit ones: the recorder cut the identifiers short.",
            "Record again with another program; these frames' addresses cannot be trusted.",
            {"frames": frames, "share": judged[0], "judged": judged[1]},
        )
        return
    yield Finding(
        "standard_identifiers",
        "note",
        1.0,
        f"{frames:,} frames with 11-bit identifiers run beside the J1939 traffic ({len(result.standard_identifiers)} "
        "different ones). They are counted, not decoded.",
        "Nothing; some makers do this.",
        {"frames": frames, "identifiers": [row.identifier for row in result.standard_identifiers[:50]]},
    )


RULES = (network_codes, other_codes, claims, unanswered, transport, standard_traffic)
