"""Where on the connector a fault is, from its id, so that a picture can mark it: in a cavity, or behind it. Pure."""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import NamedTuple

from linkcheck.walk.layout import Layout

__all__ = ["Place", "place_of"]

PAIR = ("C", "D")
J1708 = ("F", "G")
AT_CONNECTOR = ("cavity_open", "swapped", "leakage")  # in the cavities themselves; every other fault is behind them
# The first part of an id, where it says nothing more about which wire.
FIRST = {"feed": ("B",), "ground": ("A",), "terminator": PAIR, "terminators": PAIR, "backbone": PAIR, "j1708": J1708}
LINES = {
    "can_high": ("C",),
    "can_low": ("D",),
    "high": ("C",),
    "low": ("D",),
    "both": PAIR,
    "shield": ("E",),
    "j1708_plus": ("F",),
    "j1708_minus": ("G",),
    "plus": ("F",),
    "minus": ("G",),
}
OTHER_ENDS = ("ground", "battery")  # of a short: not where the fault is


class Place(NamedTuple):
    """Labels of the cavities that are bad, and of those whose wires lead to what is bad."""

    bad: list[str]
    behind: list[str]


def place_of(faults: Iterable[str], layout: Layout) -> Place:
    """Where faults are, in the order of the circuit's letters; nothing for what is elsewhere: batteries, the adapter,
    a module.
    """
    bad: set[str] = set()
    behind: set[str] = set()
    for fault in faults:
        letters = set(_letters(fault)) & set(layout.labels)
        (bad if fault.startswith(AT_CONNECTOR) else behind).update(letters)
    return Place(*([layout.labels[letter] for letter in sorted(each)] for each in (bad, behind - bad)))


def _letters(fault: str) -> tuple[str, ...]:
    name, _, which = fault.partition(":")
    if name.startswith("module"):
        return ()
    if not which:
        return FIRST.get(name.partition("_")[0], ())
    found: list[str] = []
    for part in which.split("-"):
        if part not in OTHER_ENDS:
            found += LINES.get(part, (part,) if re.fullmatch("[A-J]", part) else ())
    return tuple(found)
