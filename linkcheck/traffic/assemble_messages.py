"""From the rare messages of one channel to rows of its result."""

from __future__ import annotations

import dataclasses

from linkcheck.j1939.messages import pgn_name
from linkcheck.j1939.network_codes import network_meaning
from linkcheck.j1939.parameter_names import PARAMETER_NAMES
from linkcheck.j1939.trouble_codes import Lamps, fmi_text
from linkcheck.traffic.messages import Messages
from linkcheck.traffic.result import Claim, RequestRow, TransportSummary, TroubleCodeRow

__all__ = ["claim_rows", "code_rows", "request_rows", "transport_summary"]


def claim_rows(messages: Messages, address: int) -> list[Claim]:
    """NAMEs claimed for an address, lowest (the winner) first."""
    return [
        Claim(
            name=f"{claim.name.value:016X}",
            count=claim.count,
            first_s=claim.first_ns / 1e9,
            fields=dataclasses.asdict(claim.name),
        )
        for claim in messages.claims_of(address)
    ]


def code_rows(messages: Messages) -> list[TroubleCodeRow]:
    """Trouble codes by address, network ones first."""
    found = [
        TroubleCodeRow(
            source_address=source,
            spn=spn,
            fmi=fmi,
            count=seen.count,
            text=f"{PARAMETER_NAMES.get(spn, f'SPN {spn}')}: {fmi_text(fmi)}",
            active=active,
            lamps=_lamps(seen.lamps),
            first_s=seen.first_ns / 1e9,
            last_s=seen.last_ns / 1e9,
            network=network_meaning(spn, fmi),
        )
        for (source, spn, fmi, active), seen in messages.codes.items()
    ]
    return sorted(found, key=lambda row: (row.network is None, row.source_address, not row.active, row.spn, row.fmi))


def _lamps(lamps: Lamps) -> dict[str, str]:
    return {name: getattr(lamps, name).state for name in ("malfunction", "red_stop", "amber_warning", "protect")}


def request_rows(messages: Messages) -> list[RequestRow]:
    """Requests by who asked whom for what."""
    return [
        RequestRow(
            requester=exchange.requester,
            destination=exchange.destination,
            pgn=exchange.pgn,
            name=pgn_name(exchange.pgn),
            requests=exchange.asked,
            answered=exchange.answered,
            refused=exchange.refused,
            unanswered=exchange.unanswered,
        )
        for exchange in messages.exchanges()
    ]


def transport_summary(messages: Messages) -> TransportSummary:
    """Multi-packet messages, counted by what became of them."""
    gap = messages.shortest_bam_gap_ns
    return TransportSummary(
        completed=messages.completed,
        aborted=messages.ended["aborted"],
        incomplete=messages.ended["incomplete"],
        timed_out=messages.ended["timed out"],
        packets_without_start=messages.transport.orphans,
        shortest_bam_gap_ms=None if gap is None else gap / 1e6,
        abort_reasons=dict(messages.abort_reasons),
    )
