"""Who fell silent: alone or together, for how long, and whether chance can explain it.

A module sends its fastest message every period P and now and then misses one. From the single misses the chance p of
missing a cycle is estimated; a gap that lost n cycles in a row then has the chance p**n, and among N cycles N*p**n of
them are expected. A gap with less than one expected in a thousand captures is a silent spell. (The rule is our own
judgement; the geometric law of independent losses is textbook.)

Spells of different addresses that overlap are one incident. Two addresses belong together when their spells begin and
end together more often than independent ones would (Poisson): a shared branch, feed or ground is the plain explanation.
"""

from __future__ import annotations

import bisect
import math
from dataclasses import dataclass

from linkcheck.traffic.gaps import Gap

__all__ = ["Incident", "Rhythm", "Spell", "group", "incidents", "spells"]

_CHANCE = 1e-3
_FEWEST_LOST = 3
_NEARLY_ALL = 0.8
_COINCIDENCE = 0.01  # that the ends agree too makes the true chance far smaller
_FINEST_NS = 20_000_000  # closer than senders' periods nothing can be told apart
_SLACK = 0.25  # of a spell's length: senders of 100 ms notice a loss of power up to 100 ms late


@dataclass(frozen=True, slots=True)
class Rhythm:
    """An address's fastest steady message: period, cycles seen, and cycles missed singly."""

    period_ns: float
    cycles: int
    single_misses: int


@dataclass(frozen=True, slots=True)
class Spell:
    """An address's silence. `ended` is False where the address never came back before the capture ended."""

    address: int
    start_ns: int
    end_ns: int
    cycles_lost: int
    ended: bool

    @property
    def length_ns(self) -> int:
        """How long it lasted, or was seen to last."""
        return self.end_ns - self.start_ns


@dataclass(frozen=True, slots=True)
class Incident:
    """Spells that overlap in time; `bus_wide` when (nearly) everybody was silent."""

    start_ns: int
    end_ns: int
    spells: tuple[Spell, ...]
    bus_wide: bool

    @property
    def addresses(self) -> tuple[int, ...]:
        """Who was silent, ascending."""
        return tuple(sorted({spell.address for spell in self.spells}))


def spells(address: int, rhythm: Rhythm, gaps: list[Gap], last_ns: int, end_ns: int) -> list[Spell]:
    """Silent spells among the long gaps of an address, the one that reaches the end of the capture included."""
    chance = (rhythm.single_misses + 1) / (rhythm.cycles + 2)
    found = []
    for gap, ended in [*((gap, True) for gap in gaps), (Gap(end_ns - last_ns, last_ns), False)]:
        lost = round(gap.length_ns / rhythm.period_ns) - 1
        if lost < _FEWEST_LOST:
            continue
        if math.log(rhythm.cycles + 1) + lost * math.log(chance) < math.log(_CHANCE):
            found.append(Spell(address, gap.start_ns, gap.end_ns, lost, ended))
    return found


def incidents(found: list[Spell], bus_gaps: list[Spell], heard: int) -> list[Incident]:
    """Overlapping spells put together, by start.

    Args:
        found: spells of addresses.
        bus_gaps: stretches in which nobody sent anything.
        heard: how many addresses were heard at all.

    """
    together: list[list[Spell]] = []
    reach = 0
    for spell in sorted(found, key=lambda s: (s.start_ns, s.address)):
        if together and spell.start_ns < reach:
            together[-1].append(spell)
        else:
            together.append([spell])
            reach = 0
        reach = max(reach, spell.end_ns)
    return [_incident(tuple(part), bus_gaps, heard) for part in together]


def _incident(part: tuple[Spell, ...], bus_gaps: list[Spell], heard: int) -> Incident:
    start, end = min(s.start_ns for s in part), max(s.end_ns for s in part)
    quiet = sum(max(0, min(end, gap.end_ns) - max(start, gap.start_ns)) for gap in bus_gaps)
    silent = len({spell.address for spell in part})
    # Slow senders miss nothing in a short gap, so the bus itself is asked as well as the number of the silent.
    bus_wide = quiet * 2 > end - start or (silent > 2 and silent >= _NEARLY_ALL * heard)
    return Incident(start, end, part, bus_wide)


def group(found: list[Spell], span_ns: int) -> list[tuple[int, ...]]:
    """Addresses that fall silent together too often for chance, as disjoint groups of two and more."""
    by_address: dict[int, list[Spell]] = {}
    for spell in sorted(found, key=lambda s: s.start_ns):
        by_address.setdefault(spell.address, []).append(spell)
    addresses = sorted(by_address)
    leader = {address: address for address in addresses}

    def root(address: int) -> int:
        while leader[address] != address:
            address = leader[address]
        return address

    for i, a in enumerate(addresses):
        for b in addresses[i + 1 :]:
            if _linked(by_address[a], by_address[b], span_ns):
                leader[root(b)] = root(a)
    groups: dict[int, list[int]] = {}
    for address in addresses:
        groups.setdefault(root(address), []).append(address)
    return [tuple(members) for members in groups.values() if len(members) > 1]


def _linked(a: list[Spell], b: list[Spell], span_ns: int) -> bool:
    """Whether spells of two addresses begin and end together more often than independent ones would."""
    starts = [spell.start_ns for spell in b]
    closest = [_closest(x, b, bisect.bisect(starts, x.start_ns)) for x in a]
    shared = [distance for distance in closest if distance < math.inf]
    if not shared or len(shared) * 2 < min(len(a), len(b)):
        return False
    expected = len(a) * len(b) * 2 * max(*shared, _FINEST_NS) / max(span_ns, 1)
    by_chance = 1 - sum(math.exp(-expected) * expected**k / math.factorial(k) for k in range(len(shared)))
    return by_chance < _COINCIDENCE


def _closest(x: Spell, others: list[Spell], place: int) -> float:
    """How far the nearest of another address's spells is apart; in their order, `place` is where x would stand."""
    return min((_apart(x, y) for y in others[max(place - 1, 0) : place + 1]), default=math.inf)


def _apart(x: Spell, y: Spell) -> float:
    """How far two spells' beginnings and ends lie apart, in nanoseconds; infinite when they are not the same spell."""
    distance = max(abs(x.start_ns - y.start_ns), abs(x.end_ns - y.end_ns))
    return distance if distance < _SLACK * min(x.length_ns, y.length_ns) else math.inf
