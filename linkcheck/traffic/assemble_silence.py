"""From gaps and periods to who fell silent: rhythms of the addresses, spells, incidents, groups."""

from __future__ import annotations

from linkcheck.j1939.addresses import TOOLS
from linkcheck.traffic.gaps import BUS
from linkcheck.traffic.periods import Period, rhythm
from linkcheck.traffic.result import IncidentRow, SilenceSummary, SpellRow
from linkcheck.traffic.senders import Senders
from linkcheck.traffic.silence import Rhythm, Spell, group, incidents, spells

__all__ = ["silence_summary"]

_THROUGHOUT = 0.8  # share of an address's time over which a message must be sent to be expected


def silence_summary(
    senders: Senders,
    by_address: dict[int, list[int]],
    periods: dict[int, Period | None],
    first_ns: int,
    last_ns: int,
) -> SilenceSummary:
    """Who fell silent in a channel that was recorded from `first_ns` to `last_ns`.

    Args:
        senders: the channel's counts.
        by_address: keys of each address.
        periods: period of each key.
        first_ns: time of the first frame.
        last_ns: time of the last frame.

    """
    rhythms = {a: beat for a, ks in by_address.items() if (beat := _rhythm(senders, ks, periods)) is not None}
    found = [
        spell
        for address, beat in rhythms.items()
        for spell in spells(address, beat, senders.gaps(address), _last(senders, by_address[address]), last_ns)
    ]
    # The bus as a whole is silent when even its most restless sender is.
    fastest = min(rhythms.values(), key=lambda beat: beat.period_ns, default=None)
    bus = [] if fastest is None else spells(BUS, fastest, senders.gaps(BUS), last_ns, last_ns)
    events = incidents(found, bus, sum(address not in TOOLS for address in by_address))
    apart = [spell for event in events if not event.bus_wide for spell in event.spells]
    return SilenceSummary(
        spells=[_row(spell) for spell in sorted(found, key=lambda s: (s.start_ns, s.address))],
        incidents=[IncidentRow(i.start_ns / 1e9, i.end_ns / 1e9, list(i.addresses), i.bus_wide) for i in events],
        together=[list(members) for members in group(apart, last_ns - first_ns)],
        bus_gaps=[_row(spell) for spell in bus],
    )


def _rhythm(senders: Senders, ks: list[int], periods: dict[int, Period | None]) -> Rhythm | None:
    # A burst of fast messages is no rhythm to expect: only what the address sends throughout is.
    span = _last(senders, ks) - int(senders.tally.first_ns[ks].min())
    lasting = [k for k in ks if senders.tally.last_ns[k] - senders.tally.first_ns[k] >= _THROUGHOUT * span]
    return rhythm([found for k in lasting if (found := periods[k]) is not None])


def _last(senders: Senders, ks: list[int]) -> int:
    return int(senders.tally.last_ns[ks].max())


def _row(spell: Spell) -> SpellRow:
    end = spell.end_ns / 1e9 if spell.ended else None
    return SpellRow(spell.address, spell.start_ns / 1e9, end, spell.length_ns / 1e9, spell.cycles_lost)
