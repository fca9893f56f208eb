"""Which cavities of the connector a fault is in or behind: from its id, so that a picture can mark them. Pure."""

from __future__ import annotations

import re
from collections.abc import Iterable

from linkcheck.walk.layout import Layout

__all__ = ["cavities_of"]

PAIR = ("C", "D")
J1708 = ("F", "G")
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
SUPPLY = {"ground", "battery"}  # the other end of a short: not where the fault is


def cavities_of(faults: Iterable[str], layout: Layout) -> list[str]:
    """Labels of the cavities that faults are in or behind, in the order of the circuit's letters; none for what is
    elsewhere: batteries, the adapter, a module.
    """
    letters = {letter for fault in faults for letter in _letters(fault)}
    return [layout.labels[letter] for letter in sorted(letters) if letter in layout.labels]


def _letters(fault: str) -> tuple[str, ...]:
    name, _, which = fault.partition(":")
    if name.startswith("module"):
        return ()
    if not which:
        return FIRST.get(name.partition("_")[0], ())
    found: list[str] = []
    for part in which.split("-"):
        if part not in SUPPLY:
            found += LINES.get(part, (part,) if re.fullmatch("[A-J]", part) else ())
    return tuple(found)
