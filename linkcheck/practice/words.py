"""The learner's short words: "v b a", "o c d", "key on", "unplug t1", read into a probe or a new state of the truck.

One grammar for the terminal and for the app's entry field. Points are given by the connector's own labels, or by short
names of the others; upper and lower case are the same.
"""

from __future__ import annotations

import difflib
import re
from collections.abc import Callable
from dataclasses import replace

from linkcheck.circuit import ADAPTERS, MODULES, UNPLUGGABLE, State
from linkcheck.errors import DataError
from linkcheck.practice.hidden_faults import MODULE_ADDRESSES
from linkcheck.practice.hidden_truck import Probe
from linkcheck.walk.layout import Layout
from linkcheck.walk.table import RATES_TOGETHER

__all__ = ["MOVES_HELP", "point_names", "read_move", "read_point"]

MOVES_HELP = """\
v RED BLACK    DC volts, red lead and black lead: v B A
o RED BLACK    ohms: o C D
listen         what the adapter shows; listen other: at the other bit rate
key on|off     battery on|off     fuse in|out
plug own       your adapter; plug good: a known-good one
unplug THING   adapter; t1, t2: terminators; m1 to m6: modules; modules; drain
plug THING     back again
Points: the connector's letters; Bw: the back of cavity B; ch: chassis; b+, b-:
battery posts; fi, fo: fed and far side of the fuse; t1h, t1l: terminator 1, at
the harness; t1a, t1b: its own pins; m3h, m3l: the pair at module 3's plug."""

_SHORT = {
    "ch": "chassis",
    "gnd": "chassis",
    "b+": "battery_positive",
    "b-": "battery_negative",
    "fi": "fuse_in",
    "fo": "fuse_out",
    **{f"t{k}{end[0]}": f"terminator_{k}.{end}" for k in (1, 2) for end in ("high", "low", "a", "b")},
    **{f"m{k + 1}{end[0]}": f"module_{k + 1}.{end}" for k in range(len(MODULE_ADDRESSES)) for end in ("high", "low")},
}
_FITTED = MODULES[: len(MODULE_ADDRESSES)]
_THINGS = {
    **{name: {name} for name in UNPLUGGABLE if not name.startswith("module")},
    **{name: {name} for name in _FITTED},
    **{f"m{k}": {f"module_{k}"} for k in range(1, len(_FITTED) + 1)},
    "t1": {"terminator_1"},
    "t2": {"terminator_2"},
    "terminators": {"terminator_1", "terminator_2"},
    "modules": set(MODULES),  # as the walk says it: all that can be
}
_VOLTS, _OHMS = ("v", "volts", "volt"), ("o", "ohms", "ohm", "r")
_SWITCHES: dict[tuple[str, str], Callable[[State], State]] = {
    ("key", "on"): lambda state: replace(state, key="on"),
    ("key", "off"): lambda state: replace(state, key="off"),
    ("battery", "on"): lambda state: replace(state, battery="connected"),
    ("battery", "off"): lambda state: replace(state, battery="disconnected"),
    ("fuse", "in"): lambda state: replace(state, fuse="in"),
    ("fuse", "out"): lambda state: replace(state, fuse="pulled"),
}


def point_names(layout: Layout) -> dict[str, str]:
    """Every short name of a point, in lower case, to the circuit's own: "b" to "B", "bw" to "B.wire", "ch" to ..."""
    names = {full: full for full in _SHORT.values()} | _SHORT
    for letter, label in layout.labels.items():
        names |= {
            label.lower(): letter,
            f"{label}w".lower(): f"{letter}.wire",
            f"{label}.wire".lower(): f"{letter}.wire",
        }
    return names


def read_point(word: str, layout: Layout) -> str:
    """A point of the circuit from its short name.

    Raises:
        DataError: there is no such point.

    """
    names = point_names(layout)
    if word.lower() in names:
        return names[word.lower()]
    near = difflib.get_close_matches(word.lower(), names, 1)
    todo = f'Did you mean "{near[0]}"?' if near else "Type points for the list."
    raise DataError(f'There is no point "{word}" on this truck.', todo=todo)


def read_move(line: str, state: State, layout: Layout) -> Probe | State | None:
    """A probe, or the state that the truck is to be brought into; None where the line is neither.

    Args:
        line: what was typed.
        state: that the truck is in.
        layout: the connector's.

    Raises:
        DataError: it begins like one and cannot be understood.

    """
    word, *rest = line.lower().replace(",", " ").split() or [""]
    if word in (*_VOLTS, *_OHMS):
        if len(rest) == 1 and "-" in rest[0].rstrip("-"):
            rest = [part for part in re.split(r"(?<=\w)-(?=\w)", rest[0], maxsplit=1) if part]
        if len(rest) != 2:
            raise DataError("A reading takes two points: red, then black.", todo=f"Type {word} B A, for example.")
        red, black = (read_point(each, layout) for each in rest)
        return Probe("dc_volts" if word in _VOLTS else "ohms", red, black)
    if word in ("l", "listen"):
        return _listening(rest, layout)
    positions = [position for name, position in _SWITCHES if name == word]
    if positions:
        switch = _SWITCHES.get((word, " ".join(rest)))
        if switch is None:
            raise DataError(f"The {word} can be {' or '.join(positions)}.", todo=f"Type {word} {positions[0]}.")
        return switch(state)
    if word in ("plug", "unplug"):
        return _plugged(word, rest, state)
    return None


def _listening(rest: list[str], layout: Layout) -> Probe:
    rate = layout.equipment.bit_rate
    other = RATES_TOGETHER - rate
    rates = {"": rate, "other": other} | {f"{each / 1000:g}{k}": each for each in (rate, other) for k in ("", "k")}
    if len(rest) > 1 or (rest and rest[0] not in rates):
        raise DataError("An adapter listens at the truck's bit rate or at the other one.", todo="Type listen other.")
    return Probe("listen", bit_rate=rates["".join(rest)])


def _plugged(word: str, rest: list[str], state: State) -> State:
    thing = " ".join(rest)
    if word == "plug" and thing in ("own", "mine", "adapter"):
        return replace(state, adapter=ADAPTERS[0])
    if word == "plug" and thing in ("good", "known_good", "known good"):
        return replace(state, adapter=ADAPTERS[1])
    if word == "unplug" and thing in ("adapter", "own", "good"):
        return replace(state, adapter="unplugged")
    names = _THINGS.get(thing)
    if names is None:
        raise DataError(f'"{thing}" is nothing that can be plugged here.', todo="Try adapter, t1, t2, m1 to m6, drain.")
    unplugged = (state.unplugged | names if word == "unplug" else state.unplugged - names) - set(
        MODULES[len(_FITTED) :]
    )
    if unplugged >= set(_FITTED):  # all that are fitted is all that can be, as the walk says it
        unplugged |= set(MODULES)
    return replace(state, unplugged=frozenset(unplugged))
