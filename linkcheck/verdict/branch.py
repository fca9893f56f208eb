"""Which branch? Places on the backbone ranked, from who falls silent together and from ohms with things unplugged.

Every suspect says who must fall silent and what a meter must show; Bayes' rule weighs them all. A silent spell may miss
a slow sender and may take in a bystander; what comes and goes may be whole while the meter is on it; a meter and a
sampled truck are never quite the same.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from linkcheck.errors import UsageError
from linkcheck.traffic.result import SilenceSummary
from linkcheck.verdict.backbone import Backbone
from linkcheck.verdict.ladder import OL_OHMS, predicted_ohms
from linkcheck.verdict.suspects import Suspect, suspects

__all__ = ["OhmsReading", "Place", "Ranking", "rank", "silences"]

NOTICED = 0.85  # that a module cut off is seen to fall silent in a spell
BYSTANDER = 0.02  # that another one falls silent in the same spell
WHOLE_NOW = 0.3  # that a fault which comes and goes is not there while the meter is
SPREAD = 0.03  # of ohms, besides the sampled trucks: the meter and what the model leaves out, as a share
SPREAD_OHMS = 0.4  # leads
SLIP = 1e-3  # that a reading says nothing: a slip of hand, the wrong pins
WORDS = {"open": "open", "short": "shorted", "no supply": "without supply or ground"}


@dataclass(frozen=True, slots=True)
class OhmsReading:
    """Ohms between CAN high and CAN low at the connector, battery off; infinite for OL.

    `unplugged`: "terminator_1", "terminator_2", or addresses as text.
    """

    ohms: float
    unplugged: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True)
class Place:
    """A place and how likely it is the one.

    Attributes:
        place, index, name: as in `Suspect`.
        wrong: what is most likely wrong there.
        probability: all that can be wrong there together.
        text: the place in words. why: what speaks for it or against it.

    """

    place: str
    index: int
    name: str
    wrong: str
    probability: float
    text: str
    why: str


@dataclass(frozen=True, slots=True)
class Ranking:
    """Places, likeliest first, and what was assumed."""

    places: tuple[Place, ...]
    notes: tuple[str, ...]


def silences(summary: SilenceSummary, heard: Iterable[int], missing: Iterable[int] = ()) -> tuple[frozenset[int], ...]:
    """Who was silent, spell by spell; addresses that never spoke at all are one spell more.

    Args:
        summary: of one channel.
        heard: addresses heard on it.
        missing: addresses expected and never heard.

    """
    everybody = frozenset(heard)
    spells = [everybody if each.bus_wide else frozenset(each.addresses) for each in summary.incidents]
    never = frozenset(missing)
    return tuple(spell | never for spell in spells) if spells else (never,) if never else ()


def rank(net: Backbone, spells: Sequence[frozenset[int]], readings: Sequence[OhmsReading]) -> Ranking:
    """Weigh every place.

    Raises:
        UsageError: no evidence at all, or something unplugged that the network does not have.

    """
    known = frozenset(net.addresses)
    spells = [spell & known for spell in spells if spell & known]
    if not spells and not readings:
        raise UsageError(
            "There is nothing to go by: nobody fell silent, and no ohms were given.",
            todo="Give a capture with dropouts, or --ohms readings.",
        )
    _check(net, readings)
    all_of_them = suspects(net)
    logs = np.array(
        [
            math.log(each.odds) + _of_spells(each, spells, known) + _of_ohms(net, each, spells, readings)
            for each in all_of_them
        ]
    )
    weights = np.exp(logs - logs.max())
    weights /= weights.sum()
    groups: dict[tuple[str, int, str], list[int]] = {}
    for k, each in enumerate(all_of_them):
        groups.setdefault((each.place, each.index, each.name), []).append(k)
    places = []
    for (place, index, name), members in groups.items():
        likely = all_of_them[max(members, key=lambda k: weights[k])]
        why = " ".join(filter(None, (_why_spells(likely, spells), _why_ohms(net, likely, readings))))
        share = float(weights[members].sum())
        places.append(Place(place, index, name, likely.wrong, share, _text(net, likely), why))
    return Ranking(tuple(sorted(places, key=lambda each: -each.probability)), net.notes)


def _check(net: Backbone, readings: Sequence[OhmsReading]) -> None:
    names = {f"terminator_{k + 1}" for k, ohms in enumerate(net.terminators) if ohms is not None}
    names |= {str(address) for address in net.addresses}
    unknown = sorted({name for reading in readings for name in reading.unplugged} - names)
    if unknown:
        raise UsageError(
            f'There is no "{unknown[0]}" to unplug on this network.', todo=f"Use {', '.join(sorted(names))}."
        )


def _of_spells(suspect: Suspect, spells: Sequence[frozenset[int]], known: frozenset[int]) -> float:
    """Logarithm of how well the suspect explains who was silent, over all spells; the better of its two sides."""
    return max(sum(_of_spell(silent, spell, known) for spell in spells) for silent in suspect.silent)


def _of_spell(silent: frozenset[int], spell: frozenset[int], known: frozenset[int]) -> float:
    within, beside = len(silent & spell), len(spell - silent)
    return (
        within * math.log(NOTICED)
        + len(silent - spell) * math.log(1.0 - NOTICED)
        + beside * math.log(BYSTANDER)
        + len(known - silent - spell) * math.log(1.0 - BYSTANDER)
    )


def _of_ohms(
    net: Backbone, suspect: Suspect, spells: Sequence[frozenset[int]], readings: Sequence[OhmsReading]
) -> float:
    """Logarithm of how well it explains the ohms; a fault that comes and goes may be whole during all of them."""
    if not readings:
        return 0.0
    there = _fit(net, suspect, readings)
    if not spells:
        return there
    return float(np.logaddexp(math.log(1.0 - WHOLE_NOW) + there, math.log(WHOLE_NOW) + _fit(net, None, readings)))


def _fit(net: Backbone, suspect: Suspect | None, readings: Sequence[OhmsReading]) -> float:
    """Log-likelihood of all readings: each truck must explain them together."""
    logs = np.zeros(1)
    for reading in readings:
        expected = predicted_ohms(net, suspect, reading.unplugged)
        spread = SPREAD + SPREAD_OHMS / expected
        # Where only inputs and damp are left, thousands of ohms and OL tell the same.
        cap = np.minimum(expected, 5e3)
        apart = (math.log(min(max(reading.ohms, 0.05), 5e3)) - np.log(cap)) / np.where(cap < 2e3, spread, 0.5)
        density = np.exp(-0.5 * apart**2) / np.where(cap < 2e3, spread, 0.5)
        logs = logs + np.log((1.0 - SLIP) * density + SLIP)
    return float(np.log(np.exp(logs).mean()))


def _why_spells(suspect: Suspect, spells: Sequence[frozenset[int]]) -> str:
    if not spells:
        return ""
    counts = [sum(spell == silent for spell in spells) for silent in suspect.silent]
    silent = suspect.silent[counts.index(max(counts))]
    who = ", ".join(map(str, sorted(silent))) or "nobody"
    return f"Would silence {who}: exactly so in {max(counts)} of {len(spells)} silent spells."


def _why_ohms(net: Backbone, suspect: Suspect, readings: Sequence[OhmsReading]) -> str:
    if not readings:
        return ""
    parts = []
    for reading in readings:
        low, high = np.percentile(predicted_ohms(net, suspect, reading.unplugged), [5, 95])
        without = f" without {', '.join(sorted(reading.unplugged))}" if reading.unplugged else ""
        parts.append(f"{_ohms(reading.ohms)}{without} (would be {_ohms(low)} to {_ohms(high)})")
    return f"Ohms: {'; '.join(parts)}."


def _ohms(ohms: float) -> str:
    if ohms >= OL_OHMS / 2.0:
        return "OL"
    return f"{ohms / 1e3:.1f}k" if ohms >= 1e3 else f"{ohms:.3g}"


def _text(net: Backbone, suspect: Suspect) -> str:
    state = WORDS[suspect.wrong]
    match suspect.place:
        case "segment":
            return f"backbone between {_beside(net, suspect.index - 1)} and {_beside(net, suspect.index)}, {state}"
        case "stub" | "module":
            module = net.modules[suspect.index]
            what = "stub of" if suspect.place == "stub" else "module"
            return f"{what} {module.address} ({module.name}), {state}"
        case "terminator":
            return f"terminator {suspect.index + 1}, {'missing or open' if suspect.wrong == 'open' else state}"
        case "connector":
            return f"diagnostic connector, its stub or the adapter's plug, {state}"
        case _:
            return f'{suspect.place} "{suspect.name}", {state}'


def _beside(net: Backbone, index: int) -> str:
    if index < 0:
        return "terminator 1"
    if index >= len(net.modules):
        return "terminator 2"
    return f"{net.modules[index].address} ({net.modules[index].name})"
