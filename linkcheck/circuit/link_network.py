"""The data links as branches: CAN backbone, stub, terminators, modules, J1708, the second pair, the adapter's inputs.

    terminator_1.high - backbone_1.high - ... - backbone_8.high - terminator_2.high         (and the same for .low)
    backbone_k.high - module_k.high          backbone_k.high - stub.high - C.wire - C, where the stub leaves
    j1708.plus - F.wire - F, j1708.minus - G.wire - G          can2.high - H.wire - H, can2.low - J.wire - J

Everything here is linear. What drives the lines dominant is put on afterwards (`drivers`), because it is not.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from linkcheck.circuit.probes import MODULES
from linkcheck.circuit.solver import REFERENCE, Branch
from linkcheck.circuit.states import ADAPTERS, State
from linkcheck.circuit.supply_network import Supply, contact
from linkcheck.circuit.trucks import Trucks

__all__ = ["J1708Line", "j1708_lines", "link_branches"]

Array = npt.NDArray[Any]

LINES = ("high", "low")


def link_branches(trucks: Trucks, state: State, supply: Supply) -> list[Branch]:
    """Every branch of the data links, shorts and leakages included."""
    branches = [
        *_backbone(trucks),
        *_terminators(trucks, state),
        *_stub(trucks),
        *_modules(trucks, state, supply),
        *_j1708(trucks, state, supply),
        *_second_can(trucks, supply),
        *(Branch(a, b, 1.0 / ohms) for (a, b), ohms in trucks.bridges.items()),
    ]
    if state.plugged_adapter:
        branches += _adapter(trucks, ADAPTERS.index(state.plugged_adapter), supply)
    return branches


def _backbone(t: Trucks) -> Iterator[Branch]:
    for line in LINES:
        nodes = [f"terminator_1.{line}", *(f"backbone_{k}.{line}" for k in range(1, 9)), f"terminator_2.{line}"]
        for a, b, ohms in zip(nodes, nodes[1:], t[f"backbone_{line}_ohms"], strict=False):
            yield Branch(a, b, 1.0 / ohms)
    for ohms, place in zip(t["extra_terminator_ohms"][1:], range(1, 9), strict=True):
        yield Branch(f"backbone_{place}.high", f"backbone_{place}.low", 1.0 / ohms)


def _terminators(t: Trucks, state: State) -> Iterator[Branch]:
    for k, name in enumerate(("terminator_1", "terminator_2")):
        plugged = 0.0 if name in state.unplugged else 1.0
        yield Branch(f"{name}.high", f"{name}.a", plugged / t["terminator_high_contact_ohms"][k])
        yield Branch(f"{name}.low", f"{name}.b", plugged / t["terminator_low_contact_ohms"][k])
        yield Branch(f"{name}.a", f"{name}.b", 1.0 / t["terminator_ohms"][k])


def _stub(t: Trucks) -> Iterator[Branch]:
    for line in LINES:
        for k in range(8):
            here = t["stub_at"] == k
            yield Branch(f"backbone_{k + 1}.{line}", f"stub.{line}", here / t[f"stub_splice_{line}_ohms"])
    yield from _wires(t, "stub.high", "stub.low", ("C", "D"), (t["stub_high_ohms"], t["stub_low_ohms"]), "swapped_cd")
    yield Branch("C.wire", "D.wire", 1.0 / t["extra_terminator_ohms"][0])


def _wires(
    t: Trucks, first: str, second: str, cavities: tuple[str, str], ohms: tuple[Array, Array], swapped: str
) -> Iterator[Branch]:
    """Two wires to two cavities with their terminals; the wires change places where the truck has them swapped."""
    crossed = t[swapped].astype(np.float64)
    for node, cavity, other, wire in ((first, *cavities, ohms[0]), (second, *cavities[::-1], ohms[1])):
        yield Branch(node, f"{cavity}.wire", (1.0 - crossed) / wire)
        yield Branch(node, f"{other}.wire", crossed / wire)
        yield contact(t, cavity)


def _star(high: str, low: str, ground: str, siemens: tuple[Array, Array, Array], volts: Array) -> Iterator[Branch]:
    """An interface's input: each line to its bias, the bias to ground through a source, with the bias taken out."""
    g_high, g_low, g_bias = siemens
    total = g_high + g_low + g_bias
    yield Branch(high, low, g_high * g_low / total)
    yield Branch(high, ground, g_high * g_bias / total, volts)
    yield Branch(low, ground, g_low * g_bias / total, volts)


def _interface(
    t: Trucks, prefix: str, nodes: tuple[str, str, str], awake: Array, asleep: Array, index: int | tuple[()] = ()
) -> Iterator[Branch]:
    """One CAN interface between its lines and its ground; it is awake, asleep (bias at ground) or without supply."""

    def of(name: str) -> Array:
        return np.asarray(t[f"{prefix}_{name}"][index])

    fed = awake | asleep
    ohms = of("input_ohms") * np.where(fed, 1.0, of("unpowered_factor"))
    skew = of("input_mismatch") / 2.0
    bias = np.where(fed, of("bias_ohms"), of("unpowered_bias_ohms"))
    volts = np.where(awake, of("bias_volts"), 0.0) + np.where(fed, of("ground_volts"), 0.0)
    yield from _star(*nodes, (1.0 / (ohms * (1.0 + skew)), 1.0 / (ohms * (1.0 - skew)), 1.0 / bias), volts)


def _modules(t: Trucks, state: State, supply: Supply) -> Iterator[Branch]:
    crossed = t["module_swapped"].astype(np.float64)
    for k, name in enumerate(MODULES):
        high, low = f"{name}.high", f"{name}.low"
        plugged = t["module_present"][k] * (0.0 if name in state.unplugged else 1.0)
        for line, straight, other in (("high", high, low), ("low", low, high)):
            stub = plugged / (t[f"module_stub_{line}_ohms"][k] + t["module_joint_ohms"][k])
            yield Branch(f"backbone_{k + 1}.{line}", straight, stub * (1.0 - crossed[k]))
            yield Branch(f"backbone_{k + 1}.{line}", other, stub * crossed[k])
        yield from _interface(t, "module", (high, low, REFERENCE), supply.awake[k], supply.asleep[k], k)
        yield Branch(high, REFERENCE, 1.0 / t["module_leak_high_ohms"][k])
        yield Branch(low, REFERENCE, 1.0 / t["module_leak_low_ohms"][k])
        yield Branch(high, low, 1.0 / t["module_leak_across_ohms"][k])


def _adapter(t: Trucks, which: int, supply: Supply) -> list[Branch]:
    """The adapter's inputs, on the mating side; its ground is cavity A's."""
    joined = np.where(t["adapter_deaf"][which], 0.0, 1.0)
    branches = list(_interface(t, "adapter", ("C", "D", "A"), supply.adapter_on, np.zeros(len(t), np.bool_), which))
    branches.append(Branch("C", "D", 1.0 / t["adapter_terminator_ohms"][which]))
    branches += [
        Branch(line.node, "A", line.idle_siemens, line.idle_volts)
        for line in j1708_lines(t, "adapter", which, ("F", "G"), supply.adapter_on)
    ]
    return [Branch(x.a, x.b, x.siemens * joined, x.volts) for x in branches]


def _second_can(t: Trucks, supply: Supply) -> Iterator[Branch]:
    """The second pair, its modules lumped into one that is awake when module 1 is."""
    fitted = t["can2_fitted"].astype(np.float64)
    branches = [
        Branch("can2.high", "can2.low", 1.0 / t["can2_terminator_ohms"]),
        *_interface(t, "can2", ("can2.high", "can2.low", REFERENCE), supply.awake[0], supply.asleep[0]),
        Branch("can2.high", "H.wire", 1.0 / t["can2_high_wire_ohms"]),
        Branch("can2.low", "J.wire", 1.0 / t["can2_low_wire_ohms"]),
    ]
    yield from (Branch(x.a, x.b, x.siemens * fitted, x.volts) for x in branches)
    yield contact(t, "H")
    yield contact(t, "J")


@dataclass(frozen=True, slots=True, eq=False)
class J1708Line:
    """One line of a J1708 node, seen from the bus: a source behind a conductance, idle and driven. float64[B] each."""

    node: str
    idle_siemens: Array
    idle_volts: Array
    driven_siemens: Array
    driven_volts: Array


def j1708_lines(
    t: Trucks, prefix: str, index: int, nodes: tuple[str, str], powered: Array
) -> tuple[J1708Line, J1708Line]:
    """Both lines of a node: plus is pulled up to 5 V and driven to ground, minus is pulled down and driven to 5 V."""

    def of(name: str) -> Array:
        return np.asarray(t[f"{prefix}_{name}"][index])

    rail = np.where(powered, of("rail_volts"), 0.0)
    pull_up = 1.0 / (of("j1708_pull_up_ohms") + np.where(powered, 0.0, of("j1708_rail_ohms")))
    pull_down = 1.0 / of("j1708_pull_down_ohms")
    receiver, driver = 1.0 / of("j1708_input_ohms"), 1.0 / of("j1708_driver_ohms")
    ground = np.where(powered, of("ground_volts"), 0.0)

    def behind_series(siemens: Array, amps: Array) -> tuple[Array, Array]:
        """What stands behind the series resistor: conductance seen through it, and open-circuit volts."""
        return 1.0 / (of("j1708_series_ohms") + 1.0 / siemens), ground + amps / siemens

    def line(node: str, siemens: Array, amps: Array, driven_to: Array) -> J1708Line:
        fitted = t[f"{prefix}_j1708_fitted"][index]
        idle, idle_volts = behind_series(siemens, amps)
        driven, driven_volts = behind_series(siemens + driver, amps + driver * driven_to)
        return J1708Line(node, idle * fitted, idle_volts, driven * fitted, driven_volts)

    return (
        line(nodes[0], pull_up + receiver, pull_up * rail, np.zeros(len(t))),
        line(nodes[1], pull_down + receiver, np.zeros(len(t)), rail),
    )


def _j1708(t: Trucks, state: State, supply: Supply) -> Iterator[Branch]:
    """Every module's node at one junction: a few metres of wire count for nothing beside 4.7 kohm."""
    powered = supply.awake | supply.asleep
    for k, name in enumerate(MODULES):
        if name not in state.unplugged:
            for line in j1708_lines(t, "module", k, ("j1708.plus", "j1708.minus"), powered[k]):
                present = line.idle_siemens * t["module_present"][k]
                yield Branch(line.node, REFERENCE, present, line.idle_volts)
    wires = (t["j1708_plus_wire_ohms"], t["j1708_minus_wire_ohms"])
    yield from _wires(t, "j1708.plus", "j1708.minus", ("F", "G"), wires, "swapped_fg")
