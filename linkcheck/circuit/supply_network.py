"""The supply side as branches: battery, distribution, fuse, feed, ground, contacts, shield, and the adapter's load.

    battery_negative - battery_positive - distribution - fuse_in - fuse_out - feed_splice - B.wire - B
    battery_negative - chassis - ground_splice - A.wire - A          chassis - shield - E.wire - E

Which modules and which adapter have supply is decided here as well, from this network alone: what the data link draws
is milliamperes and moves no supply.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from linkcheck.circuit.probes import CAVITIES
from linkcheck.circuit.solver import REFERENCE, Branch, Network
from linkcheck.circuit.states import ADAPTERS, State
from linkcheck.circuit.trucks import Trucks

__all__ = ["SUPPLY_NODES", "Supply", "contact", "find_supply"]

Array = npt.NDArray[Any]

SUPPLY_NODES = frozenset(
    {"battery_negative", "battery_positive", "distribution", "fuse_in", "fuse_out", "feed_splice", "B.wire", "B"}
    | {REFERENCE, "ground_splice", "A.wire", "A"}
)


@dataclass(frozen=True, slots=True, eq=False)
class Supply:
    """The supply of every truck in a state.

    Attributes:
        branches: of the supply network, the adapter's load among them.
        awake: bool[8, B], modules with their bias up: able to talk, or not yet asleep.
        asleep: bool[8, B], modules with supply whose bias is at ground.
        talking: bool[8, B], modules that would send and receive.
        adapter_volts: float64[B], at its connector; zero without an adapter.
        adapter_on: bool[B].
        electronics_on: bool[B], the reverse-battery diodes conduct.

    """

    branches: list[Branch]
    awake: Array
    asleep: Array
    talking: Array
    adapter_volts: Array
    adapter_on: Array
    electronics_on: Array


def contact(trucks: Trucks, cavity: str) -> Branch:
    """A terminal, from the back of its cavity to its mating side."""
    return Branch(f"{cavity}.wire", cavity, 1.0 / trucks["contact_ohms"][CAVITIES.index(cavity)])


def _branches(trucks: Trucks, state: State) -> list[Branch]:
    """The supply network without the electronics behind diodes."""
    t = trucks
    none = np.zeros(len(t))
    connected = state.battery == "connected"
    loads = 1.0 / t["loads_key_off_ohms"]
    if state.key == "on":
        loads = loads + np.where(t["key_supply_dead"], 0.0, 1.0 / t["loads_key_on_ohms"])
    fitted = t["shield_fitted"].astype(np.float64)
    branches = [
        Branch(
            "battery_positive",
            "battery_negative",
            1.0 / t["battery_internal_ohms"],
            t["battery_emf_volts"] / t["battery_internal_ohms"],
        ),
        Branch("battery_negative", REFERENCE, 1.0 / t["negative_cable_ohms"] if connected else none),
        Branch("battery_positive", "distribution", 1.0 / t["positive_cable_ohms"]),
        Branch("distribution", REFERENCE, loads),
        Branch("distribution", "fuse_in", 1.0 / t["supply_wire_ohms"]),
        Branch("fuse_in", "fuse_out", 1.0 / (t["fuse_ohms"] + t["fuse_contact_ohms"]) if state.fuse == "in" else none),
        Branch("fuse_out", "feed_splice", 1.0 / t["feed_wire_ohms"]),
        Branch("feed_splice", REFERENCE, 1.0 / t["feed_tap_ohms"]),
        Branch("feed_splice", "B.wire", 1.0 / t["feed_splice_ohms"]),
        contact(t, "B"),
        Branch(REFERENCE, "ground_splice", 1.0 / t["ground_stud_ohms"]),
        Branch("ground_splice", "A.wire", 1.0 / t["ground_wire_ohms"]),
        contact(t, "A"),
        Branch("shield", REFERENCE, none if "drain" in state.unplugged else fitted / t["shield_ground_ohms"]),
        Branch("shield", "E.wire", fitted / t["shield_wire_ohms"]),
        contact(t, "E"),
    ]
    if state.plugged_adapter:
        which = ADAPTERS.index(state.plugged_adapter)
        load = np.where(t["adapter_dead"][which], 0.0, 1.0 / t["adapter_load_ohms"][which])
        branches.append(Branch("B", "A", load))
    return branches


def find_supply(trucks: Trucks, state: State) -> Supply:
    """Solve the supply network and say who has supply.

    A module has supply if the battery is connected, its distribution holds the module's minimum, and the key is on or
    it is one of those that stay connected. With the key off it sleeps at once or keeps its bias, as drawn.
    """
    t, size = trucks, len(trucks)
    branches = _branches(t, state)
    connected = state.battery == "connected"
    siemens = 1.0 / t["electronics_ohms"]
    push = siemens * t["electronics_drop_volts"]
    shorts = [Branch(a, b, 1.0 / ohms) for (a, b), ohms in t.bridges.items() if {a, b} <= SUPPLY_NODES]
    network = Network([*branches, *shorts, Branch("distribution", REFERENCE, siemens, push)], size)
    distribution = network.volts("distribution")
    electronics_on = connected & (distribution > t["electronics_drop_volts"])
    branches.append(Branch("distribution", REFERENCE, siemens * electronics_on, push * electronics_on))
    on_key = (state.key == "on") & ~t["key_supply_dead"]
    fed = connected & t["module_present"] & state.modules_plugged[:, None] & ~t["module_unpowered"]
    fed = fed & (distribution >= t["module_minimum_volts"]) & (on_key | t["module_keep_alive"])
    running = fed & on_key & ~t["module_standby"]
    awake = running | (fed & ~on_key & t["module_biased_asleep"])
    adapter_volts, adapter_on = np.zeros(size), np.zeros(size, np.bool_)
    if state.plugged_adapter:
        which = ADAPTERS.index(state.plugged_adapter)
        adapter_volts = network.volts("B") - network.volts("A")
        adapter_on = (adapter_volts >= t["adapter_minimum_volts"][which]) & ~t["adapter_dead"][which]
    return Supply(branches, awake, fed & ~awake, running, adapter_volts, adapter_on, electronics_on)
