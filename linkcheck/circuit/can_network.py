"""The CAN pairs as branches: backbone, terminators, the connector's stub, modules, the adapter's input, second pair.

    terminator_1.high - backbone_1.high - ... - backbone_8.high - terminator_2.high         (and the same for .low)
    terminator_1.high - terminator_1.a - terminator_1.b - terminator_1.low
    backbone_k.high - module_k.high
    backbone_k.high - stub.high - C.wire - C, at the junction where the stub leaves
    can2.high - H.wire - H, can2.low - J.wire - J

Everything here is linear. What drives the lines dominant is put on afterwards (`drivers`), because it is not.

An interface's input is a resistance from each line to its bias, and the bias' source behind a resistance. The bias
point is taken out here (star-mesh), which is exact, so it need not be in the network.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from linkcheck.circuit.probes import MODULES, TERMINATORS
from linkcheck.circuit.solver import REFERENCE, Branch
from linkcheck.circuit.states import ADAPTERS, State
from linkcheck.circuit.supply_network import Supply, contact
from linkcheck.circuit.trucks import Trucks

__all__ = ["CAN2_PAIR", "can_branches", "connector_wires"]

Array = npt.NDArray[Any]

LINES = ("high", "low")
CAN2_PAIR = ("can2.high", "can2.low")


def can_branches(trucks: Trucks, state: State, supply: Supply) -> Iterator[Branch]:
    """Every branch of both CAN pairs and of the adapter's input."""
    yield from _backbone(trucks)
    yield from _terminators(trucks, state)
    yield from _stub(trucks)
    yield from _modules(trucks, state, supply)
    yield from _second_can(trucks, supply)
    if state.plugged_adapter:
        yield from _adapter(trucks, ADAPTERS.index(state.plugged_adapter), supply)


def _backbone(t: Trucks) -> Iterator[Branch]:
    for line in LINES:
        junctions = [f"backbone_{k}.{line}" for k in range(1, len(MODULES) + 1)]
        nodes = [f"terminator_1.{line}", *junctions, f"terminator_2.{line}"]
        for a, b, siemens in zip(nodes, nodes[1:], 1.0 / t[f"backbone_{line}_ohms"], strict=False):
            yield Branch(a, b, siemens)
    at_connector, *at_junctions = 1.0 / t["extra_terminator_ohms"]
    yield Branch("C.wire", "D.wire", at_connector)
    for k, siemens in enumerate(at_junctions, 1):
        yield Branch(f"backbone_{k}.high", f"backbone_{k}.low", siemens)


def _terminators(t: Trucks, state: State) -> Iterator[Branch]:
    for k, name in enumerate(TERMINATORS):
        plugged = 0.0 if name in state.unplugged else 1.0
        yield Branch(f"{name}.high", f"{name}.a", plugged / t["terminator_high_contact_ohms"][k])
        yield Branch(f"{name}.low", f"{name}.b", plugged / t["terminator_low_contact_ohms"][k])
        yield Branch(f"{name}.a", f"{name}.b", 1.0 / t["terminator_ohms"][k])


def _stub(t: Trucks) -> Iterator[Branch]:
    here = t["stub_at"] == np.arange(len(MODULES))[:, None]
    for line in LINES:
        for k, siemens in enumerate(here / t[f"stub_splice_{line}_ohms"], 1):
            yield Branch(f"backbone_{k}.{line}", f"stub.{line}", siemens)
    wires = (t["stub_high_ohms"], t["stub_low_ohms"])
    yield from connector_wires(t, ("stub.high", "stub.low"), ("C", "D"), wires, t["swapped_cd"])


def connector_wires(
    trucks: Trucks, nodes: tuple[str, str], cavities: tuple[str, str], ohms: tuple[Array, Array], swapped: Array
) -> Iterator[Branch]:
    """Two wires to two cavities with their terminals; the wires change places where the truck has them swapped."""
    for node, cavity, other, wire in zip(nodes, cavities, cavities[::-1], ohms, strict=True):
        yield Branch(node, f"{cavity}.wire", ~swapped / wire)
        yield Branch(node, f"{other}.wire", swapped / wire)
        yield contact(trucks, cavity)


@dataclass(frozen=True, slots=True, eq=False)
class _Input:
    """Interfaces' inputs without their bias points: siemens [..., B], and the volts both lines rest at."""

    across: Array
    high: Array
    low: Array
    volts: Array

    def branches(self, nodes: tuple[str, str, str], row: int | None = None) -> Iterator[Branch]:
        """Between high, low and ground of one interface."""
        across, high, low, volts = (
            x if row is None else x[row] for x in (self.across, self.high, self.low, self.volts)
        )
        yield Branch(nodes[0], nodes[1], across)
        yield Branch(nodes[0], nodes[2], high, high * volts)
        yield Branch(nodes[1], nodes[2], low, low * volts)


def _input(of: Callable[[str], Array], awake: Array, asleep: Array) -> _Input:
    """Inputs of interfaces that are awake, asleep (bias at ground) or without supply."""
    fed = awake | asleep
    siemens = 1.0 / (of("input_ohms") * np.where(fed, 1.0, of("unpowered_factor")))
    skew = of("input_mismatch") / 2.0
    high, low = siemens / (1.0 + skew), siemens / (1.0 - skew)
    bias = 1.0 / np.where(fed, of("bias_ohms"), of("unpowered_bias_ohms"))
    volts = np.where(awake, of("bias_volts"), 0.0) + np.where(fed, of("ground_volts"), 0.0)
    total = high + low + bias
    return _Input(high * low / total, high * bias / total, low * bias / total, volts)


def _modules(t: Trucks, state: State, supply: Supply) -> Iterator[Branch]:
    inputs = _input(lambda name: t[f"module_{name}"], supply.awake, supply.asleep)
    plugged = t["module_present"] & state.modules_plugged[:, None]
    swapped = t["module_swapped"]
    stubs = {line: plugged / (t[f"module_stub_{line}_ohms"] + t["module_joint_ohms"]) for line in LINES}
    leaks = {where: 1.0 / t[f"module_leak_{where}_ohms"] for where in ("high", "low", "across")}
    for k, name in enumerate(MODULES):
        pins = (f"{name}.high", f"{name}.low")
        for line, straight, other in zip(LINES, pins, pins[::-1], strict=True):
            yield Branch(f"backbone_{k + 1}.{line}", straight, stubs[line][k] * ~swapped[k])
            yield Branch(f"backbone_{k + 1}.{line}", other, stubs[line][k] * swapped[k])
            yield Branch(straight, REFERENCE, leaks[line][k])
        yield Branch(*pins, leaks["across"][k])
        yield from inputs.branches((*pins, REFERENCE), k)


def _adapter(t: Trucks, which: int, supply: Supply) -> Iterator[Branch]:
    """The adapter's input, on the mating side; its ground is cavity A's."""
    joined = ~t["adapter_deaf"][which]
    asleep = np.zeros(len(t), np.bool_)
    inputs = _input(lambda name: t[f"adapter_{name}"][which], supply.adapter_on, asleep)
    seen = _Input(inputs.across * joined, inputs.high * joined, inputs.low * joined, inputs.volts)
    yield from seen.branches(("C", "D", "A"))
    yield Branch("C", "D", joined / t["adapter_terminator_ohms"][which])


def _second_can(t: Trucks, supply: Supply) -> Iterator[Branch]:
    """The second pair, its modules lumped into one that is awake when module 1 is."""
    fitted = t["can2_fitted"]
    inputs = _input(lambda name: t[f"can2_{name}"], supply.awake[0], supply.asleep[0])
    branches = [
        *inputs.branches((*CAN2_PAIR, REFERENCE)),
        Branch(*CAN2_PAIR, 1.0 / t["can2_terminator_ohms"]),
        Branch("can2.high", "H.wire", 1.0 / t["can2_high_wire_ohms"]),
        Branch("can2.low", "J.wire", 1.0 / t["can2_low_wire_ohms"]),
    ]
    yield from (Branch(x.a, x.b, x.siemens * fitted, x.amps * fitted) for x in branches)
    yield contact(t, "H")
    yield contact(t, "J")
