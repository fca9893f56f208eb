"""A fault's knob: which parameters of a truck it turns, where and how far; and `turn`, which turns it.

A knob has one or more ways to happen, equally likely ("a bad splice, a bad wire or a bad terminal"), and each way
turns one or more parameters or bridges two nodes. What a way chooses for itself (which module, which piece of
backbone, which terminator) is chosen evenly among those the truck has. The knobs themselves are in `knob_table`.

Only the circuit's side of a fault is here: how likely it is, what repairs it and what may have caused it belongs to
the faults.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
import numpy.typing as npt

from linkcheck.circuit.distributions import Sampler, constant
from linkcheck.circuit.parameter import AXES, OPEN, Axis
from linkcheck.circuit.trucks import PARAMETERS, Trucks
from linkcheck.circuit.vehicle import SEGMENTS

__all__ = ["Bridge", "Change", "Knob", "Turned", "Way", "turn"]

Array = npt.NDArray[Any]
NO_SEVERITY = constant(0.0)


@dataclass(frozen=True, slots=True)
class Change:
    """One parameter turned.

    Attributes:
        parameter: its name.
        how: "set" to the value, "add" or "scale" by it, "mirror": the value less what it was.
        value: a figure, or None for the knob's severity.
        place: index on the parameter's own axis; "all", or "chosen" (one that the truck has).

    """

    parameter: str
    how: Literal["set", "add", "scale", "mirror"] = "set"
    value: float | None = None
    place: int | Literal["all", "chosen"] = "all"


_HOW: dict[str, Callable[[Array, Array | float], Any]] = {
    "set": lambda _before, value: value,
    "add": np.add,
    "scale": np.multiply,
    "mirror": lambda before, value: value - before,
}


@dataclass(frozen=True, slots=True)
class Bridge:
    """Two nodes joined by the knob's severity in ohms."""

    a: str
    b: str


Way = tuple[Change | Bridge, ...]


@dataclass(frozen=True, slots=True)
class Knob:
    """A fault's knob.

    Attributes:
        fault: its id.
        ways: how it can happen.
        severity: how far it goes, where a change or a bridge asks for it.
        unit: of the severity; "" where there is none.

    """

    fault: str
    ways: tuple[Way, ...]
    severity: Sampler = NO_SEVERITY
    unit: str = ""


@dataclass(frozen=True, slots=True, eq=False)
class Turned:
    """Trucks with a fault.

    Attributes:
        trucks: the batch with the fault in it.
        way: int[B], index into the knob's ways.
        severity: float64[B].
        place: int[B], what was chosen (module, piece, terminator, place; from 0), -1 where nothing was.

    """

    trucks: Trucks
    way: Array
    severity: Array
    place: Array


def turn(trucks: Trucks, knob: Knob, rng: np.random.Generator, *, severity: Array | float | None = None) -> Turned:
    """Give every truck of a batch the same fault, each its own way, place and severity.

    Args:
        trucks: the batch; sound, or with another fault already.
        knob: the fault's.
        rng: for way, place and severity.
        severity: instead of the knob's own, float64[B] or one figure.

    """
    n = len(trucks)
    way = rng.integers(len(knob.ways), size=n)
    spin = rng.random(n)
    # A severity asks nothing of the vehicles: only parameter tables do.
    drawn = knob.severity(rng, None, (n,)) if severity is None else severity
    drawn = np.broadcast_to(np.asarray(drawn, np.float64), (n,))
    place = np.full(n, -1)
    for index, changes in enumerate(knob.ways):
        rows = way == index
        for change in changes:
            if isinstance(change, Bridge):
                trucks = trucks.bridged(change.a, change.b, np.where(rows, drawn, OPEN))
            else:
                trucks, chosen = _changed(trucks, change, rows, drawn, spin)
                place = np.where(rows, chosen, place)
    return Turned(trucks, way, drawn, place)


def _changed(trucks: Trucks, change: Change, rows: Array, severity: Array, spin: Array) -> tuple[Trucks, Array]:
    """One change made in some of the trucks; also where, for each truck (-1: nothing was chosen)."""
    before = trucks[change.parameter]
    chosen = np.full(len(trucks), -1)
    where = np.broadcast_to(rows, before.shape)
    if change.place == "chosen":
        chosen = _choose(trucks, PARAMETERS[change.parameter].axis, spin)
        where = where & (np.arange(before.shape[0])[:, None] == chosen)
    elif change.place != "all":
        where = where & (np.arange(before.shape[0])[:, None] == change.place)
    after = _HOW[change.how](before, severity if change.value is None else change.value)
    return trucks.changed(**{change.parameter: np.where(where, after, before)}), chosen


def _choose(trucks: Trucks, axis: Axis, spin: Array) -> Array:
    """One of those that the truck has, by a number from 0 up to 1."""
    modules = trucks["module_present"].sum(axis=0)
    count = {"module": modules, "segment": modules + 1, "place": modules + 1}.get(axis, math.prod(AXES[axis]))
    pick = (spin * count).astype(int)
    if axis == "segment":  # after the last module's piece comes the one to terminator 2, which is the last of all
        return np.where(pick == modules, SEGMENTS - 1, pick)
    return np.asarray(pick)
