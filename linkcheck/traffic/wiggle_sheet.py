"""What a wiggle watch amounts to: incidents, who fell together, and what that says about the place to look.

Values in, values out; the words are those a colleague would use. That a module claims its address when it gets its
supply back is SAE J1939-81; the conclusions from who falls together are common practice, no source.
"""

from __future__ import annotations

from dataclasses import dataclass

from linkcheck.j1939.addresses import address_name
from linkcheck.traffic.silence import Incident, Spell, group, incidents
from linkcheck.traffic.wiggle import WiggleEvent, WiggleWatch

__all__ = ["FallRow", "MeterMinMax", "Moment", "WiggleSheet", "wiggle_sheet"]

_NEAR_NS = 500_000_000  # a mark or a dip so close to a silence belongs to it: a hand moves, a battery report takes 1 s


@dataclass(frozen=True, slots=True)
class MeterMinMax:
    """What a meter on min/max kept while the harness was moved, as the user entered it."""

    lowest: float
    highest: float
    unit: str


@dataclass(frozen=True, slots=True)
class Moment:
    """One thing that happened: at which second of the watch, what, and with whom.

    `together` names everything that belongs to the same moment; empty where it stands alone.
    """

    at_s: float
    until_s: float | None
    kind: str
    channel: str
    text: str
    addresses: list[int]
    together: list[str]


@dataclass(frozen=True, slots=True)
class FallRow:
    """Addresses that fall silent together, how often, and what that says."""

    channel: str
    addresses: list[int]
    times: int
    shares: str
    text: str


@dataclass(frozen=True, slots=True)
class WiggleSheet:
    """The whole watch. Seconds count from `start_s`, which is on the capture's clock."""

    start_s: float
    length_s: float
    watched: dict[str, dict[int, float]]
    moments: list[Moment]
    falls: list[FallRow]
    meter: MeterMinMax | None


def wiggle_sheet(watch: WiggleWatch, start_ns: int, end_ns: int, meter: MeterMinMax | None = None) -> WiggleSheet:
    """Sum up a watch that ran from `start_ns` to `end_ns`."""
    moments: list[Moment] = []
    falls: list[FallRow] = []
    heard = watch.heard()
    rest = [event for event in watch.events if event.kind != "late"]
    for channel in dict.fromkeys(e.channel for e in watch.events if e.kind == "late"):
        late = [e for e in watch.events if e.kind == "late" and e.channel == channel]
        spells = [_spell(event, end_ns) for event in late]
        found = incidents(spells, [], len(heard.get(channel, [])))
        moments += [_silence(incident, late, rest, channel, start_ns) for incident in found]
        sure = [_spell(event, end_ns) for event in late if not event.doubtful]
        falls += _falls(channel, incidents(sure, [], len(heard.get(channel, []))), late, end_ns - start_ns)
    moments += [_other(event, rest, start_ns) for event in rest]
    moments.sort(key=lambda moment: moment.at_s)
    return WiggleSheet(start_ns / 1e9, (end_ns - start_ns) / 1e9, watch.learned(), moments, falls, meter)


def _spell(event: WiggleEvent, end_ns: int) -> Spell:
    end = end_ns if event.end_ns is None else event.end_ns
    return Spell(event.address or 0, event.start_ns, max(end, event.start_ns + 1), 0, event.end_ns is not None)


def _near(event: WiggleEvent, start_ns: int, end_ns: int) -> bool:
    return event.start_ns <= end_ns + _NEAR_NS and (event.end_ns or event.start_ns) >= start_ns - _NEAR_NS


def _silence(
    incident: Incident, late: list[WiggleEvent], rest: list[WiggleEvent], channel: str, start_ns: int
) -> Moment:
    names = [f"{a} ({address_name(a)})" for a in incident.addresses]
    who = "the whole bus" if incident.bus_wide else names[0] if len(names) == 1 else f"{len(names)} addresses together"
    ended = all(spell.ended for spell in incident.spells)
    length = f"for {(incident.end_ns - incident.start_ns) / 1e9:.2f} s" if ended else "and not back by the end"
    mine = [e for e in late if incident.start_ns <= e.start_ns <= incident.end_ns]
    restarted = [e for e in mine if e.restarted]
    tail = (
        f"; {len(restarted)} of them restarted"
        if restarted and len(names) > 1
        else "; it restarted"
        if restarted
        else ""
    )
    if all(event.doubtful for event in mine):
        tail += " (doubtful: frames were held up on their way to us)"
    with_it = [e.text for e in rest if _near(e, incident.start_ns, incident.end_ns)]
    return Moment(
        (incident.start_ns - start_ns) / 1e9,
        (incident.end_ns - start_ns) / 1e9 if ended else None,
        "late",
        channel,
        f"{who} silent {length}{tail}",
        list(incident.addresses),
        [*(names if len(names) > 1 else []), *with_it],
    )


def _other(event: WiggleEvent, rest: list[WiggleEvent], start_ns: int) -> Moment:
    end = event.start_ns if event.end_ns is None else event.end_ns
    near = [e.text for e in rest if e is not event and _near(e, event.start_ns, end)]
    return Moment(
        (event.start_ns - start_ns) / 1e9,
        None if event.end_ns is None else (event.end_ns - start_ns) / 1e9,
        event.kind,
        event.channel,
        event.text,
        [] if event.address is None else [event.address],
        near,
    )


def _falls(channel: str, found: list[Incident], late: list[WiggleEvent], span_ns: int) -> list[FallRow]:
    rows = []
    wide = [incident for incident in found if incident.bus_wide]
    if wide:
        everyone = sorted({address for incident in wide for address in incident.addresses})
        text = "the whole bus falls: backbone, terminators, a short, or the plug of this adapter"
        rows.append(FallRow(channel, everyone, len(wide), "whole bus", text))
    apart = [spell for incident in found if not incident.bus_wide for spell in incident.spells]
    together = group(apart, span_ns)
    alone = sorted({spell.address for spell in apart} - {a for members in together for a in members})
    for members in [*together, *((address,) for address in alone)]:
        mine = [e for e in late if e.address in members]
        times = len({i.start_ns for i in found if not i.bus_wide and set(i.addresses) & set(members)})
        restarts = sum(event.restarted for event in mine)
        rows.append(FallRow(channel, list(members), times, *_meaning(len(members), restarts * 2 >= len(mine) > 0)))
    return rows


def _meaning(members: int, restarted: bool) -> tuple[str, str]:
    if members > 1:
        if restarted:
            return "shared feed", "they restart together: a feed, fuse or ground they share"
        return "shared branch", "they go and come without a restart: the data wires of a branch they share"
    if restarted:
        return "own feed", "it restarts: its own feed, fuse or ground"
    return "own stub", "it goes and comes without a restart: its own stub or plug, or the module itself"
