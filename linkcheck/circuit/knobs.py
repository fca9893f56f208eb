"""What each fault does to a truck: the parameters it turns, where, and how far, as one table.

Only the circuit's side of a fault is here. How likely it is, what repairs it and what may have caused it belongs to
the faults; so do severities if they know better (`turn` takes them). Ranges of severity are judgement: common
practice, no source, wide on purpose.

A knob has one or more ways to happen, equally likely ("a bad splice, a bad wire or a bad terminal"), and each way
turns one or more parameters or bridges two nodes. What a way chooses for itself (which module, which piece of
backbone, which terminator) is chosen evenly among those the truck has.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
import numpy.typing as npt

from linkcheck.circuit.distributions import Sampler, chance, constant, log, mixture, uniform
from linkcheck.circuit.parameter import OPEN, Axis
from linkcheck.circuit.probes import CAVITIES
from linkcheck.circuit.trucks import PARAMETERS, Trucks
from linkcheck.circuit.vehicle import MODULE_SLOTS, SEGMENTS
from linkcheck.errors import UsageError

__all__ = ["KNOBS", "Bridge", "Change", "Knob", "Turned", "turn"]

Array = npt.NDArray[Any]
RATES_TOGETHER = 750_000.0  # 250 and 500 kbit/s: one less this is the other


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
    severity: Sampler = constant(0.0)
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


_HARD = log(0.05, 30.0)  # a chafed wire on metal, a bent terminal
_WET = log(200.0, 2e4)  # water and corrosion
_BROKEN = mixture((0.9, constant(OPEN)), (0.1, log(3e3, 1e6)))  # hanging on, now and then


def _ways(*ways: Change | Bridge | Sequence[Change | Bridge]) -> tuple[Way, ...]:
    return tuple((way,) if isinstance(way, Change | Bridge) else tuple(way) for way in ways)


def _short(fault: str, ends: Sequence[str], others: Sequence[str], severity: Sampler = _HARD) -> Knob:
    return Knob(fault, _ways(*(Bridge(a, b) for a in ends for b in others)), severity, "ohm")


def _along(line: str, cavity: str) -> tuple[str, ...]:
    """Places where a CAN line can touch something: behind the connector, at the stub, at either end."""
    return f"{cavity}.wire", f"stub.{line}", f"backbone_1.{line}", f"backbone_3.{line}"


_HIGH, _LOW = _along("high", "C"), _along("low", "D")
_SUPPLIES = ("distribution", "B.wire")
_FEED = ("fuse_out", "feed_splice", "B.wire")

_TABLE = (
    Knob("none", ((),)),
    Knob(
        "battery_low",
        _ways(Change("battery_emf_volts", "scale"), (Change("battery_emf_volts", "scale"), Change("battery_internal_ohms", "scale", 20.0))),
        uniform(0.45, 0.93),
        "of its volts",
    ),
    Knob("battery_connection", _ways(Change("negative_cable_ohms", "add"), Change("positive_cable_ohms", "add")), log(0.05, 20.0), "ohm"),
    Knob("key_supply_dead", _ways(Change("key_supply_dead", value=1.0))),
    Knob("feed_fuse_open", _ways(Change("fuse_ohms")), _BROKEN, "ohm"),
    Knob("feed_open", _ways(Change("feed_wire_ohms"), Change("feed_splice_ohms"), Change("supply_wire_ohms")), _BROKEN, "ohm"),
    Knob(
        "feed_resistance",
        _ways(
            Change("feed_wire_ohms", "add"),
            Change("feed_splice_ohms", "add"),
            Change("fuse_contact_ohms", "add"),
            Change("contact_ohms", "add", place=CAVITIES.index("B")),
        ),
        log(1.0, 500.0),
        "ohm",
    ),
    Knob(
        "feed_short_to_ground",
        _ways(*((Change("fuse_ohms", value=OPEN), Bridge(node, "chassis")) for node in _FEED)),
        log(0.02, 20.0),
        "ohm",
    ),
    Knob("ground_open", _ways(Change("ground_wire_ohms"), Change("ground_stud_ohms")), _BROKEN, "ohm"),
    Knob(
        "ground_resistance",
        _ways(
            Change("ground_wire_ohms", "add"),
            Change("ground_stud_ohms", "add"),
            Change("contact_ohms", "add", place=CAVITIES.index("A")),
        ),
        log(1.0, 500.0),
        "ohm",
    ),
    *(Knob(f"cavity_open:{c}", _ways(Change("contact_ohms", place=k)), _BROKEN, "ohm") for k, c in enumerate(CAVITIES)),
    *(
        Knob(f"stub_open:{line}", _ways(Change(f"stub_{line}_ohms"), Change(f"stub_splice_{line}_ohms")), _BROKEN, "ohm")
        for line in ("high", "low")
    ),
    *(
        Knob(f"stub_resistance:{line}", _ways(Change(f"stub_{line}_ohms", "add"), Change(f"stub_splice_{line}_ohms", "add")), log(5.0, 2e3), "ohm")
        for line in ("high", "low")
    ),
    *(Knob(f"backbone_open:{line}", _ways(Change(f"backbone_{line}_ohms", place="chosen")), _BROKEN, "ohm") for line in ("high", "low")),
    Knob(
        "backbone_open:both",
        _ways((Change("backbone_high_ohms", place="chosen"), Change("backbone_low_ohms", place="chosen"))),
        _BROKEN,
        "ohm",
    ),
    *(
        Knob(f"backbone_resistance:{line}", _ways(Change(f"backbone_{line}_ohms", "add", place="chosen")), log(5.0, 2e3), "ohm")
        for line in ("high", "low")
    ),
    Knob(
        "terminator_missing",
        _ways(
            Change("terminator_ohms", place="chosen"),
            Change("terminator_high_contact_ohms", place="chosen"),
            Change("terminator_low_contact_ohms", place="chosen"),
        ),
        constant(OPEN),
        "ohm",
    ),
    Knob("terminators_missing", _ways(Change("terminator_ohms")), constant(OPEN), "ohm"),
    Knob("terminator_extra", _ways(Change("extra_terminator_ohms", place="chosen")), uniform(114.0, 126.0), "ohm"),
    Knob("terminators_extra", _ways(Change("extra_terminator_ohms", place="chosen")), uniform(57.0, 63.0), "ohm"),
    Knob(
        "terminator_value",
        _ways(Change("terminator_ohms", place="chosen")),
        mixture((0.5, log(5.0, 90.0)), (0.5, log(160.0, 5e3))),
        "ohm",
    ),
    _short("short:can_high-ground", _HIGH, ("chassis",)),
    _short("short:can_low-ground", _LOW, ("chassis",)),
    _short("short:can_high-battery", _HIGH, _SUPPLIES),
    _short("short:can_low-battery", _LOW, _SUPPLIES),
    Knob(
        "short:can_high-can_low",
        _ways(*(Bridge(high, low) for high, low in zip(_HIGH, _LOW, strict=True))),
        _HARD,
        "ohm",
    ),
    _short("short:can_high-shield", _HIGH, ("shield",)),
    _short("short:can_low-shield", _LOW, ("shield",)),
    Knob("swapped:C-D", _ways(Change("swapped_cd", value=1.0))),
    Knob("swapped:F-G", _ways(Change("swapped_fg", value=1.0))),
    Knob(
        "module_leakage",
        _ways(
            Change("module_leak_high_ohms", place="chosen"),
            Change("module_leak_low_ohms", place="chosen"),
            Change("module_leak_across_ohms", place="chosen"),
        ),
        log(5.0, 1.5e3),
        "ohm",
    ),
    Knob("module_dominant", _ways((Change("module_stuck", value=1.0, place="chosen"), Change("module_standby", value=0.0)))),
    Knob("module_unpowered", _ways(Change("module_unpowered", value=1.0, place="chosen"))),
    Knob("module_swapped", _ways(Change("module_swapped", value=1.0, place="chosen"))),
    Knob("module_bit_rate", _ways(Change("module_wrong_rate", value=1.0, place="chosen"))),
    *(Knob(f"module_open:{line}", _ways(Change(f"module_stub_{line}_ohms", place="chosen")), _BROKEN, "ohm") for line in ("high", "low")),
    _short("leakage:A-C", ("A.wire",), ("C.wire",), _WET),
    _short("leakage:A-D", ("A.wire",), ("D.wire",), _WET),
    _short("leakage:B-C", ("B.wire",), ("C.wire",), _WET),
    _short("leakage:B-D", ("B.wire",), ("D.wire",), _WET),
    _short("leakage:C-D", ("C.wire",), ("D.wire",), log(20.0, 2e3)),
    _short("leakage:B-F", ("B.wire",), ("F.wire",), _WET),
    Knob("bit_rate", _ways(Change("bit_rate", "mirror", RATES_TOGETHER))),
    Knob("adapter_power", _ways(Change("adapter_dead", value=1.0, place=0))),
    Knob("adapter_data", _ways(Change("adapter_deaf", value=1.0, place=0))),
    Knob("adapter_terminator", _ways(Change("adapter_terminator_ohms", place=0)), uniform(114.0, 126.0), "ohm"),
    _short("j1708_short", ("F.wire", "j1708.plus"), ("G.wire", "j1708.minus")),
    _short("short:j1708_plus-ground", ("F.wire", "j1708.plus"), ("chassis",)),
    _short("short:j1708_minus-ground", ("G.wire", "j1708.minus"), ("chassis",)),
    _short("short:j1708_plus-battery", ("F.wire", "j1708.plus"), _SUPPLIES),
    _short("short:j1708_minus-battery", ("G.wire", "j1708.minus"), _SUPPLIES),
    Knob("j1708_open:plus", _ways(Change("j1708_plus_wire_ohms")), _BROKEN, "ohm"),
    Knob("j1708_open:minus", _ways(Change("j1708_minus_wire_ohms")), _BROKEN, "ohm"),
)  # fmt: skip

KNOBS: dict[str, Knob] = {knob.fault: knob for knob in _TABLE}


def turn(trucks: Trucks, fault: str, rng: np.random.Generator, *, severity: Array | float | None = None) -> Turned:
    """Give every truck of a batch the same fault, each its own way, place and severity.

    Args:
        trucks: the batch; sound, or with another fault already.
        fault: a key of `KNOBS`.
        rng: for way, place and severity.
        severity: instead of the knob's own, float64[B] or one figure.

    Raises:
        UsageError: no such knob.

    """
    knob = KNOBS.get(fault)
    if knob is None:
        raise UsageError("the circuit has no knob for this fault.", where=fault)
    n = len(trucks)
    way = rng.integers(len(knob.ways), size=n)
    # Samplers of severities ask nothing of the vehicles; the argument is there for the parameter tables.
    drawn = knob.severity(rng, None, (n,)) if severity is None else np.broadcast_to(np.asarray(severity, np.float64), (n,))  # type: ignore[arg-type]  # fmt: skip
    place = np.full(n, -1)
    spin = rng.random(n)
    for index, changes in enumerate(knob.ways):
        rows = way == index
        for change in changes:
            if isinstance(change, Bridge):
                trucks = trucks.bridged(change.a, change.b, np.where(rows, drawn, OPEN))
                continue
            trucks, chosen = _changed(trucks, change, rows, drawn, spin)
            place = np.where(rows, chosen, place)
    return Turned(trucks, way, np.asarray(drawn, np.float64), place)


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
    value = severity if change.value is None else change.value
    after = _HOW[change.how](before, value)
    return trucks.changed(**{change.parameter: np.where(where, after, before)}), chosen


def _choose(trucks: Trucks, axis: Axis, spin: Array) -> Array:
    """One of those that the truck has, by a number from 0 to 1."""
    count = trucks["module_present"].sum(axis=0)
    if axis == "module":
        return np.asarray((spin * count).astype(int))
    if axis == "segment":  # those up to the last module, and the one from it to terminator 2, which is the last
        pick = (spin * (count + 1)).astype(int)
        return np.where(pick == count, SEGMENTS - 1, pick)
    if axis == "place":
        return np.asarray((spin * (count + 1)).astype(int))
    return np.asarray(
        (spin * {"terminator": 2, "adapter": 2, "cavity": len(CAVITIES)}.get(axis, MODULE_SLOTS)).astype(int)
    )
