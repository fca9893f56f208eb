"""Which fault a practice truck hides: chosen by difficulty and seed, and where exactly it sits, in words.

How hard a fault is follows from the catalogue: what it takes to prove it. A new row of the catalogue needs nothing
here; a new parameter or node that a knob turns needs its words.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Literal, get_args

import numpy as np

from linkcheck.circuit import CAVITIES, Bridge, Change, Knob, State
from linkcheck.circuit.vehicle import SEGMENTS
from linkcheck.errors import UsageError
from linkcheck.faults.catalogue import FAULTS
from linkcheck.faults.fault import Fault
from linkcheck.j1939.addresses import address_name
from linkcheck.practice.truck import PLANS
from linkcheck.walk.checks import CHECKS
from linkcheck.walk.costs import minutes_for

__all__ = [
    "DIFFICULTIES",
    "MODULE_ADDRESSES",
    "Difficulty",
    "choose_faults",
    "difficulty_of",
    "module_words",
    "whereabouts",
]

Difficulty = Literal["easy", "medium", "hard"]
DIFFICULTIES: tuple[Difficulty, ...] = get_args(Difficulty)

MODULE_ADDRESSES = tuple(PLANS)  # source addresses of module_1, module_2, ...: the invented truck's
QUICK_MINUTES = 5.0  # a proof within reach of the seat; beyond it the battery comes off or something is unplugged
LONG_MINUTES = 20.0
SOUND_SHARE = {"easy": 0.0, "medium": 0.08, "hard": 0.08}  # trucks with nothing wrong, as come to every shop
PAIR_SHARE = {"easy": 0.0, "medium": 0.0, "hard": 0.35}  # trucks with two faults at once


def difficulty_of(fault: Fault) -> Difficulty:
    """How hard a fault is to prove.

    Easy: near the connector, with nothing disconnected. Hard: not at all by a meter, or only with half the truck
    unplugged. Medium: whatever is between.
    """
    quickest = min(
        (
            sum(minutes_for(CHECKS[proof.check], State()) for proof in together)
            for together in fault.proof
            if all(proof.check in CHECKS for proof in together)
        ),
        default=np.inf,
    )
    return "easy" if quickest <= QUICK_MINUTES else "medium" if quickest <= LONG_MINUTES else "hard"


def choose_faults(difficulty: Difficulty, seed: int, *, possible: Iterable[str]) -> tuple[str, ...]:
    """The faults that a truck hides; none at all now and then.

    Args:
        difficulty: see `difficulty_of`; "hard" also pairs faults.
        seed: the same seed gives the same faults.
        possible: ids of the faults that can be on such a truck.

    """
    rng = np.random.default_rng([seed, 41, DIFFICULTIES.index(difficulty)])
    by_level: dict[str, list[str]] = {level: [] for level in DIFFICULTIES}
    for name in possible:
        if name != "none":
            by_level[difficulty_of(FAULTS[name])].append(name)
    drawn = rng.random()
    if drawn < SOUND_SHARE[difficulty]:
        return ()
    if drawn < SOUND_SHARE[difficulty] + PAIR_SHARE[difficulty]:
        first = str(rng.choice(by_level["medium"]))
        # Of different subsystems, so that neither hides the other altogether.
        others = [name for name in (*by_level["easy"], *by_level["medium"]) if _apart(first, name)]
        return first, str(rng.choice(others))
    return (str(rng.choice(by_level[difficulty])),)


def _apart(first: str, second: str) -> bool:
    return FAULTS[first].subsystem != FAULTS[second].subsystem


_NODES = {
    "chassis": "the chassis",
    "distribution": "the battery feed behind the batteries",
    "fuse_out": "the feed right behind its fuse",
    "feed_splice": "the feed at its splice",
    "battery_positive": "the battery's positive post",
    "shield": "the shield",
    "j1708.plus": "the J1708 plus line at its splice",
    "j1708.minus": "the J1708 minus line at its splice",
    "stub.high": "CAN high where the connector's stub leaves the backbone",
    "stub.low": "CAN low where the connector's stub leaves the backbone",
}
_PARAMETERS = {
    "adapter_dead": "your adapter's own supply",
    "adapter_deaf": "your adapter's data lines",
    "adapter_terminator_ohms": "inside your adapter or its cable",
    "backbone_high_ohms": "CAN high in {place} of the backbone",
    "backbone_low_ohms": "CAN low in {place} of the backbone",
    "battery_emf_volts": "the batteries themselves",
    "battery_internal_ohms": "the batteries themselves",
    "bit_rate": "the adapter's setting: the truck talks at the other bit rate",
    "contact_ohms": "the terminal in cavity {place}",
    "extra_terminator_ohms": "a terminator too many at {place}",
    "feed_splice_ohms": "the feed's splice",
    "feed_wire_ohms": "the feed wire behind the fuse",
    "fuse_contact_ohms": "the fuse's socket",
    "fuse_ohms": "the feed's fuse",
    "ground_stud_ohms": "the ground stud",
    "ground_wire_ohms": "the ground wire to cavity A",
    "j1708_minus_wire_ohms": "the J1708 minus wire",
    "j1708_plus_wire_ohms": "the J1708 plus wire",
    "key_supply_dead": "the supply that comes with the key",
    "module_leak_across_ohms": "across the pair inside {place}",
    "module_leak_high_ohms": "from CAN high to ground inside {place}",
    "module_leak_low_ohms": "from CAN low to ground inside {place}",
    "module_stub_high_ohms": "CAN high of the stub to {place}",
    "module_stub_low_ohms": "CAN low of the stub to {place}",
    "module_stuck": "the bus driver of {place}",
    "module_swapped": "the plug of {place}",
    "module_unpowered": "the supply of {place}",
    "module_wrong_rate": "the bit rate of {place}",
    "negative_cable_ohms": "the battery's negative cable",
    "positive_cable_ohms": "the battery's positive cable",
    "stub_high_ohms": "CAN high of the connector's stub",
    "stub_low_ohms": "CAN low of the connector's stub",
    "stub_splice_high_ohms": "the splice of the connector's stub, CAN high",
    "stub_splice_low_ohms": "the splice of the connector's stub, CAN low",
    "supply_wire_ohms": "the wire from the distribution to the fuse",
    "swapped_cd": "the plug: CAN high and low changed over",
    "swapped_fg": "the plug: J1708 plus and minus changed over",
    "terminator_high_contact_ohms": "{place}'s contact on CAN high",
    "terminator_low_contact_ohms": "{place}'s contact on CAN low",
    "terminator_ohms": "{place}",
}


def whereabouts(knob: Knob, way: int, place: int) -> str:
    """Where a fault sits on this truck, in words; empty where there is nothing to say.

    Args:
        knob: the fault's.
        way: which of its ways it took.
        place: what was chosen there, -1 where nothing was.

    Raises:
        UsageError: a knob turns something that has no words here.

    """
    changes = knob.ways[way]
    # Of a change and a bridge the bridge is the fault: the fuse only blew because of it.
    bridges = [each for each in changes if isinstance(each, Bridge)]
    if bridges:
        return f"between {_node(bridges[0].a)} and {_node(bridges[0].b)}"
    known = [each for each in changes if isinstance(each, Change) and each.parameter in _PARAMETERS]
    if changes and not known:
        raise UsageError("there are no words for where this fault sits.", where=knob.fault)
    words = [_PARAMETERS[each.parameter].format(place=_place(each, place)) for each in known]
    return " and ".join(dict.fromkeys(words))


def _node(name: str) -> str:
    if name in _NODES:
        return _NODES[name]
    part, _, line = name.partition(".")
    if line == "wire":
        return f"the wire behind cavity {part}"
    return f"CAN {line} of the backbone at {module_words(int(part.removeprefix('backbone_')) - 1)}"


def _place(change: Change, chosen: int) -> str:
    if change.parameter == "contact_ohms":
        return CAVITIES[int(change.place)]
    if chosen < 0:
        return "both terminators"
    if change.parameter.startswith("terminator"):
        return f"terminator {chosen + 1}"
    if change.parameter.startswith("backbone"):
        return "the last piece" if chosen == SEGMENTS - 1 else f"piece {chosen + 1}"
    if change.parameter.startswith("extra"):
        return f"the junction of {module_words(chosen - 1)}" if chosen else "the connector"
    return module_words(chosen)


def module_words(index: int) -> str:
    """One of the truck's modules, counted from 0: "module 3 (brakes)"."""
    return f"module {index + 1} ({address_name(MODULE_ADDRESSES[index])})"
