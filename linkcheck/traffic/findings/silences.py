"""Findings about silences: everybody at once, some together, one alone, one for good."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from linkcheck.j1939.addresses import TOOLS, address_name
from linkcheck.traffic.findings.bus import FULL_SECOND
from linkcheck.traffic.options import Options
from linkcheck.traffic.result import ChannelResult, Finding, IncidentRow, SpellRow

if TYPE_CHECKING:
    from linkcheck.traffic.channel import ChannelAnalysis

__all__ = ["RULES"]

_LISTED = 100  # spells kept as evidence


def everybody(_: ChannelAnalysis, result: ChannelResult, __: Options) -> Iterator[Finding]:
    """All fell silent: starved by a full bus, not heard by a recorder in trouble, or really silent."""
    wide = [i for i in result.silence.incidents if i.bus_wide]
    load = result.bus_load.peak_1s or 0.0
    if wide and load >= FULL_SECOND and not result.silence.bus_gaps:
        yield Finding(
            "starved",
            "fault",
            0.9,
            f"{_times(wide).capitalize()} (nearly) every address fell silent while the bus was full, for up to "
            f"{_longest(wide):.2f} s, first at {_at(result, wide[0].start_s)}: frames of higher priority did not let them "
            "through.",
            "Find who fills the bus; the silent modules are sound.",
            {"times": _spans(wide), "peak_1s": load},
        )
        return
    off = [row.at_s for row in result.error_frames.states if row.state == "bus-off"]
    own = [i for i in wide if any(i.start_s - 0.1 <= at <= i.end_s for at in off)]
    if own:
        yield Finding(
            "recorder_bus_off",
            "watch",
            0.9,
            f"{_times(own).capitalize()} the silence of all began with the recorder's own controller going bus-off: it was "
            "the recorder that heard nothing.",
            "See why the recorder's own frames fail: its bit rate, its plug, its transmitter.",
            {"times": _spans(own)},
        )
    real = [i for i in wide if i not in own]
    if real:
        yield Finding(
            "bus_silent",
            "fault",
            0.95,
            f"{_times(real).capitalize()} (nearly) every address fell silent at once, for up to {_longest(real):.2f} s; "
            f"first at {_at(result, real[0].start_s)}. That is the backbone, the common supply, or the recorder's own "
            "connection.",
            "Rule out the adapter's plug first (pins A, B, C, D), then wiggle the backbone and the terminators.",
            {"times": _spans(real), "longest_s": _longest(real)},
        )


def some(_: ChannelAnalysis, result: ChannelResult, __: Options) -> Iterator[Finding]:
    """Some fell silent, alone or in company."""
    wide = [i for i in result.silence.incidents if i.bus_wide]
    lone = [
        spell
        for spell in result.silence.spells
        if spell.address not in TOOLS and not any(i.start_s <= spell.start_s <= i.end_s for i in wide)
    ]
    company: dict[int, list[int]] = {}
    for members in result.silence.together:
        shared = [spell for spell in lone if spell.address in members]
        if shared:
            company |= {address: [other for other in members if other != address] for address in members}
            yield _together(members, shared)
    for address in sorted({spell.address for spell in lone}):
        own = [spell for spell in lone if spell.address == address]
        yield from _gone(result, own)
        yield from _came_back(result, own, company.get(address, []))


def _together(members: list[int], spells: list[SpellRow]) -> Finding:
    names = " and ".join(f"{a} ({address_name(a)})" for a in members)
    return Finding(
        "silent_together",
        "fault",
        0.95,
        f"Addresses {names} fall silent at the same moments, more often than chance allows: they share a branch, a feed or "
        "a ground.",
        "Find what these modules share (stub splice, fuse, ground stud) and wiggle there.",
        {"addresses": members, "spells": [[s.address, s.start_s, s.length_s] for s in spells[:_LISTED]]},
    )


def _gone(result: ChannelResult, own: list[SpellRow]) -> Iterator[Finding]:
    for spell in own:
        if spell.end_s is None:
            yield Finding(
                "never_came_back",
                "fault",
                0.9,
                f"Address {spell.address} ({address_name(spell.address)}) fell silent at {_at(result, spell.start_s)} and was "
                f"not heard again in the remaining {spell.length_s:.1f} s.",
                "Check that module's feed, ground and stub; if all stop with the key, it may simply have gone to sleep.",
                {"address": spell.address, "since_s": spell.start_s},
            )


def _came_back(result: ChannelResult, own: list[SpellRow], company: list[int]) -> Iterator[Finding]:
    back = [spell for spell in own if spell.end_s is not None]
    if not back:
        return
    address = back[0].address
    longest = max(back, key=lambda spell: spell.length_s)
    times = ", ".join(_at(result, spell.start_s) for spell in back[:6]) + (" ..." if len(back) > 6 else "")
    beside = f", often with {' and '.join(map(str, company))}" if company else " while others kept talking"
    yield Finding(
        "address_silent",
        "fault",
        0.95,
        f"Address {address} ({address_name(address)}) fell silent {_times(back)}{beside}, longest {longest.length_s:.2f} s "
        f"({longest.cycles_lost} messages in a row); at {times}.",
        "Wiggle that module's connector, stub, feed and ground while watching for its address.",
        {"address": address, "spells": [[s.start_s, s.end_s] for s in back[:_LISTED]], "longest_s": longest.length_s},
    )


def _times(events: list[SpellRow] | list[IncidentRow]) -> str:
    return {1: "once", 2: "twice"}.get(len(events), f"{len(events)} times")


def _longest(incidents: list[IncidentRow]) -> float:
    return max(i.end_s - i.start_s for i in incidents)


def _spans(incidents: list[IncidentRow]) -> list[list[float]]:
    return [[i.start_s, i.end_s] for i in incidents[:_LISTED]]


def _at(result: ChannelResult, time_s: float) -> str:
    return f"{time_s - (result.first_s or 0.0):.1f} s"


RULES = (everybody, some)
