"""J1708 nodes as the bus sees them, idle and driving, and the pair's wires to the connector.

A node pulls its plus line up to its 5 V rail and its minus line down to ground, both through 47 ohm, and has a
receiver on each. Driving (a logic 0) it ties plus to ground and minus to the rail, still behind the 47 ohm. Without
supply the rail is a resistance to ground. Each line of a node is therefore a current source beside a conductance
(Norton), which is exact, so the node's inner points need not be in the network.

    j1708.plus - F.wire - F          j1708.minus - G.wire - G

All nodes sit at one junction: a few metres of wire count for nothing beside 4.7 kohm.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from linkcheck.circuit.can_network import connector_wires
from linkcheck.circuit.solver import REFERENCE, Branch
from linkcheck.circuit.states import ADAPTERS, State
from linkcheck.circuit.supply_network import Supply
from linkcheck.circuit.trucks import Trucks

__all__ = ["J1708_PAIR", "J1708Line", "adapter_j1708", "j1708_branches", "module_j1708"]

Array = npt.NDArray[Any]

J1708_PAIR = ("j1708.plus", "j1708.minus")


@dataclass(frozen=True, slots=True, eq=False)
class J1708Line:
    """One line of nodes as the bus sees it: conductance and short-circuit current, idle and driving; [..., B]."""

    siemens: Array
    amps: Array
    driving_siemens: Array
    driving_amps: Array


def _lines(of: Callable[[str], Array], fitted: Array, powered: Array) -> tuple[J1708Line, J1708Line]:
    """The plus and the minus line of nodes, [..., B]."""
    rail = np.where(powered, of("rail_volts"), 0.0)
    ground = np.where(powered, of("ground_volts"), 0.0)
    pull_up = 1.0 / (of("j1708_pull_up_ohms") + np.where(powered, 0.0, of("j1708_rail_ohms")))
    pull_down = 1.0 / of("j1708_pull_down_ohms")
    receiver, driver, series = 1.0 / of("j1708_input_ohms"), 1.0 / of("j1708_driver_ohms"), of("j1708_series_ohms")

    def seen(siemens: Array, volts_siemens: Array) -> tuple[Array, Array]:
        through = fitted / (series + 1.0 / siemens)
        return through, through * (ground + volts_siemens / siemens)

    def line(siemens: Array, pulled: Array, driven: Array) -> J1708Line:
        return J1708Line(*seen(siemens, pulled), *seen(siemens + driver, pulled + driven))

    nothing = np.zeros_like(rail)
    return (
        line(pull_up + receiver, pull_up * rail, nothing),
        line(pull_down + receiver, nothing, driver * rail),
    )


def module_j1708(trucks: Trucks, state: State, supply: Supply) -> tuple[J1708Line, J1708Line]:
    """Both lines of every module's node, [8, B]; nothing where a module has none or is unplugged."""
    fitted = trucks["module_j1708_fitted"] & trucks["module_present"] & state.modules_plugged[:, None]
    railed = supply.awake | (supply.asleep & trucks["module_j1708_asleep"])
    return _lines(lambda name: trucks[f"module_{name}"], fitted, railed)


def adapter_j1708(trucks: Trucks, state: State, supply: Supply) -> Iterator[Branch]:
    """The adapter's node, on the mating side; its ground is cavity A's."""
    if state.plugged_adapter is None:
        return
    which = ADAPTERS.index(state.plugged_adapter)
    fitted = trucks["adapter_j1708_fitted"][which] & ~trucks["adapter_deaf"][which]
    lines = _lines(lambda name: trucks[f"adapter_{name}"][which], fitted, supply.adapter_on)
    for cavity, line in zip(("F", "G"), lines, strict=True):
        yield Branch(cavity, "A", line.siemens, line.amps)


def j1708_branches(trucks: Trucks, state: State, supply: Supply) -> Iterator[Branch]:
    """The modules' nodes, the wires to cavities F and G, and the adapter's node."""
    for node, line in zip(J1708_PAIR, module_j1708(trucks, state, supply), strict=True):
        yield Branch(node, REFERENCE, line.siemens.sum(axis=0), line.amps.sum(axis=0))
    wires = (trucks["j1708_plus_wire_ohms"], trucks["j1708_minus_wire_ohms"])
    yield from connector_wires(trucks, J1708_PAIR, ("F", "G"), wires, trucks["swapped_fg"])
    yield from adapter_j1708(trucks, state, supply)
