"""Findings about who talks: missing, unexpected, doubled, late. Silences have a module of their own."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from linkcheck.j1939.addresses import TOOLS, address_name
from linkcheck.j1939.messages import DM1
from linkcheck.traffic.options import Options
from linkcheck.traffic.result import ChannelResult, Finding

if TYPE_CHECKING:
    from linkcheck.traffic.channel import ChannelAnalysis

__all__ = ["RULES"]

_MISSED_SHARE = 0.05
_OFF_NOMINAL = 0.10  # real controllers run up to 10 % off (seen in open captures)


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
    new = sorted(heard - set(options.expect) - TOOLS)
    if new:
        yield Finding(
            "address_unexpected",
            "note",
            0.9,
            f"Heard and not on the list: {', '.join(f'{a} ({address_name(a)})' for a in new)}.",
            "Ask what was added to the truck lately.",
            {"unexpected": new},
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
        if worst and source.address not in spoken and source.address not in TOOLS:
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
        if r.nominal_ms
        and r.period_ms
        and r.frames > 20
        and r.pgn != DM1
        and abs(r.period_ms / r.nominal_ms - 1) > _OFF_NOMINAL
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


RULES = (missing, duplicates, late, off_nominal)
