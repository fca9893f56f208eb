"""Findings: what a good colleague would say about a capture, with how sure, the evidence, and what to check next.

One module a topic; each is a list of small rules over the finished `ChannelResult`. A rule looks at figures, never at
frames. A new rule is one function added to its module's RULES.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from linkcheck.traffic.findings import bus, network, plausibility, senders, silences
from linkcheck.traffic.findings.source import source_findings
from linkcheck.traffic.options import Options
from linkcheck.traffic.result import ChannelResult, Finding

if TYPE_CHECKING:
    from linkcheck.traffic.channel import ChannelAnalysis

__all__ = ["channel_findings", "source_findings"]

_ORDER = {"fault": 0, "watch": 1, "note": 2}


def channel_findings(channel: ChannelAnalysis, result: ChannelResult, options: Options) -> list[Finding]:
    """All findings of a channel, worst and surest first."""
    found = [
        finding
        for topic in (bus, senders, silences, network, plausibility)
        for rule in topic.RULES
        for finding in rule(channel, result, options)
    ]
    return sorted(found, key=lambda finding: (_ORDER[finding.severity], -finding.certainty))
