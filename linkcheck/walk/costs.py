"""What a check costs: minutes for moving the leads, and for every change of the truck's state since the last check.

The figures are common practice, no source. Comfort and risk count as minutes: taking the battery's cable off is not
only slow, it also clears settings and upsets clocks, and a terminator sits under the truck.
"""

from __future__ import annotations

from linkcheck.circuit import State
from linkcheck.walk.checks import Check

__all__ = ["minutes_between", "minutes_for"]

LEADS = 0.6  # two leads to a connector in front of one's eyes, and reading the meter
TALK = 0.5  # an adapter: until its program says something
OTHER_RATE = 0.5
LOOK = 0.5

_KEY = 0.3
_BATTERY = 4.0
_FUSE = 1.5
_ADAPTER = {"unplugged": 0.7, "own": 1.0, "known_good": 3.0}
_UNPLUG = {"terminator": 4.0, "module": 3.0, "drain": 4.0}
_REACH = {"terminator": 2.0, "module": 2.0, "battery": 1.0, "fuse": 0.7}
_BACK_PROBE = 0.7


def minutes_between(before: State, after: State) -> float:
    """Minutes to bring a truck from one state into another."""
    total = 0.0
    if before.battery != after.battery:
        total += _BATTERY
    if before.key != after.key:
        total += _KEY
    if before.adapter != after.adapter:
        total += _ADAPTER[after.adapter]
    if before.fuse != after.fuse:
        total += _FUSE
    return total + sum(_UNPLUG[name.split("_")[0]] for name in before.unplugged ^ after.unplugged)


def minutes_for(check: Check, before: State) -> float:
    """Minutes of a check, from the state the truck is in."""
    total = minutes_between(before, check.state)
    if check.quantity in ("listen", "heard"):
        return total + TALK + (OTHER_RATE if check.other_rate else 0.0)
    if check.quantity == "look":
        return total + LOOK
    return total + LEADS + max(_reach(check.red), _reach(check.black))


def _reach(point: str) -> float:
    if point.endswith(".wire"):
        return _BACK_PROBE
    return _REACH.get(point.split("_", maxsplit=1)[0], 0.0)
