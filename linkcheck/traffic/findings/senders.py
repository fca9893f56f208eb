"""Findings about who talks: missing, unexpected, fallen silent, doubled, late."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from linkcheck.j1939.addresses import address_name
from linkcheck.traffic.findings.bus import FULL_SECOND
from linkcheck.traffic.options import Options
from linkcheck.traffic.result import ChannelResult, Finding, SpellRow

if TYPE_CHECKING:
    from linkcheck.traffic.channel import ChannelAnalysis

__all__ = ["RULES"]

_TOOLS = frozenset({249, 250, 251, 254})  # off-board tools, loggers and the null address come and go
_MISSED_SHARE = 0.05
_OFF_NOMINAL = 0.10  # real controllers run up to 10 % off (seen in open captures)
_NEARLY_ALL = 0.8


def missing(_: ChannelAnalysis, result: ChannelResult, options: Options) -> Iterator[Finding]:
    """Who should talk and does not, and who talks unasked."""
    if options.expect is None:
        return
    heard = {source.address for source in result.source_addresses}
    absent = sorted(set(options.expect) - heard)
    if absent and heard:
        names = ", ".join(f"{a} ({options.expect[a] or address_name(a)})" for a in absent)
        yield Finding(
            "address_missing",
            "fault",
            0.95,
            f"Expected and not heard at all: {names}. {len(heard)} others talk, so the bus itself works.",
            "Check that module's power and ground first, then its stub: ohms C to D cannot see an open stub.",
            {"missing": absent, "heard": sorted(heard)},
        )
    new = sorted(heard - set(options.expect) - _TOOLS)
    if new:
        yield Finding(
            "address_unexpected",
            "note",
            0.9,
            f"Heard and not on the list: {', '.join(f'{a} ({address_name(a)})' for a in new)}.",
            "Ask what was added to the truck lately.",
            {"unexpected": new},
        )


def silences(_: ChannelAnalysis, result: ChannelResult, __: Options) -> Iterator[Finding]:
    """Who fell silent, alone and together."""
    heard = [s.address for s in result.source_addresses if s.address not in _TOOLS]
    wide = [
        i for i in result.silence.incidents if len(i.addresses) > 2 and len(i.addresses) >= _NEARLY_ALL * len(heard)
    ]
    load = result.bus_load.peak_1s or 0
    if wide and load >= FULL_SECOND and not result.silence.bus_gaps:
        yield Finding(
            "starved",
            "fault",
            0.9,
            f"{_times(len(wide)).capitalize()} (nearly) every address fell silent while the bus was full, for up to "
            f"{max(i.end_s - i.start_s for i in wide):.2f} s, first at {_at(result, wide[0].start_s)}: frames of higher "
            "priority did not let them through.",
            "Find who fills the bus; the silent modules are sound.",
            {"times": [[i.start_s, i.end_s] for i in wide[:50]], "peak_1s": load},
        )
    elif wide:
        longest = max(i.end_s - i.start_s for i in wide)
        yield Finding(
            "bus_silent",
            "fault",
            0.95,
            f"{_times(len(wide)).capitalize()} (nearly) every address fell silent at once, for up to {longest:.2f} s; first at "
            f"{_at(result, wide[0].start_s)}. That is the backbone, the common supply, or the recorder's own connection.",
            "Rule out the adapter's plug first (pins A, B, C, D), then wiggle the backbone and the terminators.",
            {"times": [[i.start_s, i.end_s] for i in wide[:50]], "longest_s": longest},
        )
    inside = {(s.address, s.start_s) for s in result.silence.spells for i in wide if i.start_s <= s.start_s <= i.end_s}
    lone = [s for s in result.silence.spells if (s.address, s.start_s) not in inside]
    grouped = {address for members in result.silence.together for address in members}
    for members in result.silence.together:
        shared = [s for s in lone if s.address in members]
        if shared:
            yield _together(members, shared)
    for address in sorted({s.address for s in lone}):
        own = [s for s in lone if s.address == address]
        yield from _alone(result, address, own, grouped=address in grouped)


def _together(members: list[int], spells: list[SpellRow]) -> Finding:
    names = " and ".join(f"{a} ({address_name(a)})" for a in members)
    return Finding(
        "silent_together",
        "fault",
        0.95,
        f"Addresses {names} fall silent at the same moments, more often than chance allows: they share a branch, a feed "
        "or a ground.",
        "Find what these modules share (stub splice, fuse, ground stud) and wiggle there.",
        {"addresses": members, "spells": [[s.address, s.start_s, s.length_s] for s in spells[:100]]},
    )


def _alone(result: ChannelResult, address: int, own: list[SpellRow], *, grouped: bool) -> Iterator[Finding]:
    name = f"{address} ({address_name(address)})"
    gone = [s for s in own if s.end_s is None]
    if gone and address not in _TOOLS:
        yield Finding(
            "never_came_back",
            "fault",
            0.9,
            f"Address {name} fell silent at {_at(result, gone[0].start_s)} and was not heard again for the remaining "
            f"{gone[0].length_s:.1f} s.",
            "Check that module's feed, ground and stub; if all stop with the key, it may simply have gone to sleep.",
            {"address": address, "since_s": gone[0].start_s},
        )
    back = [s for s in own if s.end_s is not None]
    if back and address not in _TOOLS:
        longest = max(back, key=lambda s: s.length_s)
        times = ", ".join(_at(result, s.start_s) for s in back[:6]) + (" ..." if len(back) > 6 else "")
        also = " (together with others, see there)" if grouped else " while the rest of the bus kept talking"
        yield Finding(
            "address_silent",
            "fault",
            0.95,
            f"Address {name} fell silent {_times(len(back))}{also}, longest {longest.length_s:.2f} s "
            f"({longest.cycles_lost} messages in a row); at {times}.",
            "Wiggle that module's connector, stub, feed and ground while watching for its address.",
            {"address": address, "spells": [[s.start_s, s.end_s] for s in back[:100]], "longest_s": longest.length_s},
        )


def duplicates(channel: ChannelAnalysis, result: ChannelResult, __: Options) -> Iterator[Finding]:
    """One address used by two devices."""
    names = {source.address: source.claims for source in result.source_addresses}
    trains: dict[int, list[int]] = {}
    content: dict[int, bool] = {}
    for (address, pgn), found in channel.duplicates.found.items():
        trains.setdefault(address, []).append(pgn)
        content[address] = content.get(address, False) or bool(found.differing_bytes)
    claimed = {address for address, claims in names.items() if len(claims) > 1}
    for address in sorted(claimed | set(trains)):
        pgns = sorted(trains.get(address, []))
        sure = (0.98 if pgns else 0.9) if address in claimed else 0.85 if content.get(address) else 0.6
        proofs = []
        if address in claimed:
            proofs.append(f"{len(names[address])} different NAMEs claim it")
        if pgns:
            differ = " with different content" if content.get(address) else ""
            proofs.append(f"PGN {', '.join(map(str, pgns))} comes as two interleaved trains{differ}")
        yield Finding(
            "address_twice",
            "fault" if sure >= 0.8 else "watch",
            sure,
            f"Two devices use address {address} ({address_name(address)}): {'; '.join(proofs)}.",
            "Look for an added or swapped module; unplug one and see which train stops.",
            {"address": address, "pgns": pgns, "names": [claim.name for claim in names.get(address, [])]},
        )


def late(_: ChannelAnalysis, result: ChannelResult, __: Options) -> Iterator[Finding]:
    """Messages that miss many of their cycles, one here and one there."""
    spoken = {spell.address for spell in result.silence.spells}
    for source in result.source_addresses:
        # Messages to one address come when they are needed; only those to everyone keep a beat.
        steady = [r for r in source.pgns if r.pgn >= 0xF000 and r.frames > 100]
        worst = [r for r in steady if r.missed > _MISSED_SHARE * (r.frames + r.missed)]
        if worst and source.address not in spoken and source.address not in _TOOLS:
            rows = ", ".join(f"PGN {r.pgn} {r.missed / (r.frames + r.missed):.0%}" for r in worst[:4])
            yield Finding(
                "cycles_missed",
                "watch",
                0.7,
                f"Address {source.address} ({source.name}) misses cycles of its periodic messages: {rows}.",
                "Compare with the load at those moments; a crowded bus or a recorder that loses frames does this too.",
                {"address": source.address, "pgns": [[r.pgn, r.missed, r.frames] for r in worst]},
            )


def off_nominal(_: ChannelAnalysis, result: ChannelResult, __: Options) -> Iterator[Finding]:
    """Periods far from the published ones."""
    odd = [
        [s.address, r.pgn, r.period_ms, r.nominal_ms]
        for s in result.source_addresses
        for r in s.pgns
        if r.nominal_ms and r.period_ms and r.frames > 20 and abs(r.period_ms / r.nominal_ms - 1) > _OFF_NOMINAL
    ]
    if odd:
        text = ", ".join(f"{pgn} from {a}: {p:.0f} instead of {n:.0f} ms" for a, pgn, p, n in odd[:4])
        yield Finding(
            "periods_off_nominal",
            "note",
            0.5,
            f"{len(odd)} messages do not keep the published period (PGN {text}). Some makers choose so; it is no fault "
            "by itself.",
            "Compare with a good truck of the same kind.",
            {"messages": odd},
        )


def _times(count: int) -> str:
    return {1: "once", 2: "twice"}.get(count, f"{count} times")


def _at(result: ChannelResult, time_s: float) -> str:
    return f"{time_s - (result.first_s or 0):.1f} s"


RULES = (missing, silences, duplicates, late, off_nominal)
