"""Every place on a backbone where something can be wrong, and who falls silent then, as seen from the connector.

A break cuts off what lies behind it; a short silences all; a lost feed silences its modules and leaves every ohm as it
is. Odds among places are our own judgement: splices and stubs go more often than backbone runs (common practice, no
source).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from linkcheck.verdict.backbone import Backbone

__all__ = ["Suspect", "suspects"]

OPEN, SHORT = 0.8, 0.2  # of wiring faults


@dataclass(frozen=True, slots=True)
class Suspect:
    """Something wrong at one place.

    Attributes:
        place: "segment", "stub", "module", "branch", "feed", "connector" or "terminator".
        index: of the segment (0 is between terminator 1 and the first module), module or terminator; 0 elsewhere.
        name: of the branch or feed; empty elsewhere.
        wrong: "open", "short", or "no supply".
        silent: sets of addresses, one of which falls silent: two where the connector's side is not known.
        odds: before any evidence, not normalised.

    """

    place: str
    index: int
    name: str
    wrong: str
    silent: tuple[frozenset[int], ...]
    odds: float


def suspects(net: Backbone) -> tuple[Suspect, ...]:
    """All of them."""
    return (*_segments(net), *_modules(net), *_shared(net), *_ends(net))


def _segments(net: Backbone) -> Iterator[Suspect]:
    addresses = net.addresses
    for k in range(len(addresses) + 1):
        left, right = frozenset(addresses[:k]), frozenset(addresses[k:])
        if net.connector is None:
            behind: tuple[frozenset[int], ...] = (left, right)
        elif k == net.connector:  # the connector sits amid this run; the break may be on either side of it
            behind = (left, right)
        else:
            behind = (right,) if k > net.connector else (left,)
        yield Suspect("segment", k, "", "open", behind, OPEN)
        yield Suspect("segment", k, "", "short", (frozenset(addresses),), SHORT)


def _modules(net: Backbone) -> Iterator[Suspect]:
    everybody = frozenset(net.addresses)
    for k, address in enumerate(net.addresses):
        alone = frozenset({address})
        yield Suspect("stub", k, "", "open", (alone,), 1.5 * OPEN)
        yield Suspect("stub", k, "", "short", (everybody,), 1.5 * SHORT)
        yield Suspect("module", k, "", "no supply", (alone,), 1.0)
        yield Suspect("module", k, "", "short", (everybody,), SHORT)


def _shared(net: Backbone) -> Iterator[Suspect]:
    for name, members in net.shared("branch").items():
        yield Suspect("branch", 0, name, "open", (members,), 1.5 * OPEN)
        yield Suspect("branch", 0, name, "short", (frozenset(net.addresses),), 1.5 * SHORT)
    for name, members in net.shared("feed").items():
        yield Suspect("feed", 0, name, "no supply", (members,), 1.5)


def _ends(net: Backbone) -> Iterator[Suspect]:
    everybody = frozenset(net.addresses)
    yield Suspect("connector", 0, "", "open", (everybody,), 1.5 * OPEN)
    yield Suspect("connector", 0, "", "short", (everybody,), 1.5 * SHORT)
    for k, ohms in enumerate(net.terminators):
        if ohms is not None:
            yield Suspect("terminator", k, "", "open", (frozenset(),), OPEN)
            yield Suspect("terminator", k, "", "short", (everybody,), SHORT)
