"""Ohms between CAN high and CAN low at the connector, for any suspect and anything unplugged.

Battery off, nothing drives: the pair is a ladder of resistances (both conductors of a run in one, inputs and
terminators across), solved for many sampled trucks at once. Stands beside `linkcheck.circuit`, which knows the whole
truck but always eight slots: here the vehicle's own row of modules counts, however many.

Figures: SAE J1939-11 conductors of at most 25 mohm/m (from memory), terminators 120 ohm within 5 %, inputs of 20 kohm
to 1 Mohm without supply (NXP TJA1051 data sheet rev. 7, table 7), good joints of a few mohm (common practice).
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import numpy.typing as npt

from linkcheck.verdict.backbone import Backbone
from linkcheck.verdict.suspects import Suspect

__all__ = ["OL_OHMS", "predicted_ohms"]

Array = npt.NDArray[Any]

TRUCKS = 60
OL_OHMS = 1e6  # a meter's OL is taken as this: a broken loop still shows something through inputs and damp
OPEN_SIEMENS = 1e-9
LEAK_SIEMENS = 1e-7  # across every junction


class _Trucks:
    """Sampled trucks as a row of junctions: terminator 1, the modules with the connector among them, terminator 2.

    All siemens: `runs` [n + 2, TRUCKS] between junctions, `across` [n + 3, TRUCKS] the pair at each of them.
    """

    def __init__(self, net: Backbone, unplugged: frozenset[str], seed: int) -> None:
        rng = np.random.default_rng(seed)
        self.n = len(net.modules)
        self.connector = 1 + (self.n // 2 if net.connector is None else net.connector)
        self.runs = 1.0 / (0.01 + 0.04 * np.exp(rng.normal(0.0, 0.8, (self.n + 2, TRUCKS))))
        self.across = np.full((self.n + 3, TRUCKS), LEAK_SIEMENS)
        self.at_meter = np.zeros(TRUCKS)
        self.short = 1.0 / np.exp(rng.uniform(np.log(0.1), np.log(3.0), TRUCKS))
        self.side = rng.random(TRUCKS) < 0.5  # where two runs or junctions are in question
        self.joined = True
        tolerance = rng.uniform(0.95, 1.05, (2, TRUCKS))
        inputs = 1.0 / np.exp(rng.uniform(np.log(20e3), np.log(1e6), (self.n, TRUCKS)))
        self.ends = [0.0 if ohms is None else 1.0 / (ohms * tolerance[k]) for k, ohms in enumerate(net.terminators)]
        for k, end in enumerate(self.ends):
            if f"terminator_{k + 1}" not in unplugged:
                self.across[self.end(k)] += end
        self.inputs = [inputs[k] * (str(each.address) not in unplugged) for k, each in enumerate(net.modules)]
        for k, siemens in enumerate(self.inputs):
            self.across[self.module(k)] += siemens

    def module(self, k: int) -> int:
        """Junction of a module."""
        return k + 1 if k + 1 < self.connector else k + 2

    def end(self, k: int) -> int:
        """Junction of a terminator."""
        return k * (self.n + 2)

    def seen(self) -> Array:
        """Ohms at the connector: each side folded up from its end."""
        if not self.joined:
            return np.full(TRUCKS, OL_OHMS)
        left = self.across[0]
        for k in range(self.connector):
            left = self.across[k + 1] + 1.0 / (1.0 / self.runs[k] + 1.0 / left)
        right = self.across[-1]
        for k in range(self.n + 1, self.connector - 1, -1):
            right = self.across[k] + 1.0 / (1.0 / self.runs[k] + 1.0 / right)
        siemens = left + right - self.across[self.connector] + self.at_meter
        return np.asarray(np.minimum(1.0 / siemens, OL_OHMS))


def predicted_ohms(net: Backbone, suspect: Suspect | None, unplugged: frozenset[str], seed: int = 1) -> Array:
    """What a meter shows, float64[TRUCKS], at most `OL_OHMS`; `suspect` None for a sound network.

    Args:
        net: the network.
        suspect: what is wrong.
        unplugged: "terminator_1", "terminator_2" or addresses as text.
        seed: of the sampled trucks; the same for all suspects, so that only the fault differs.

    """
    trucks = _Trucks(net, unplugged, seed)
    if suspect is not None and suspect.wrong != "no supply":
        _SPOIL[suspect.place](trucks, net, suspect, unplugged)
    return trucks.seen()


def _segment(trucks: _Trucks, _net: Backbone, suspect: Suspect, _: frozenset[str]) -> None:
    """A run, or either of the two that meet at the connector's junction."""
    k, spot = suspect.index, trucks.connector - 1
    runs = (spot, spot + 1) if k == spot else (k,) * 2 if k < spot else (k + 1,) * 2
    for run, here in zip(runs, (trucks.side, ~trucks.side), strict=True):
        if suspect.wrong == "open":
            trucks.runs[run] = np.where(here, OPEN_SIEMENS, trucks.runs[run])
        else:
            trucks.across[run + (run != runs[0])] += np.where(here, trucks.short, 0.0)


def _module(trucks: _Trucks, net: Backbone, suspect: Suspect, unplugged: frozenset[str]) -> None:
    """Inside a module: gone once it is unplugged."""
    if str(net.modules[suspect.index].address) not in unplugged:
        trucks.across[trucks.module(suspect.index)] += trucks.short


def _stub(trucks: _Trucks, net: Backbone, suspect: Suspect, _: frozenset[str]) -> None:
    """A stub's wires, or a common stub's: what hangs on it is cut off, or the short stays whatever is unplugged."""
    hanging = [suspect.index]
    if suspect.place == "branch":
        hanging = [k for k, module in enumerate(net.modules) if module.branch == suspect.name]
    if suspect.wrong == "short":
        trucks.across[trucks.module(hanging[0])] += trucks.short
        return
    for k in hanging:
        trucks.across[trucks.module(k)] -= trucks.inputs[k]


def _connector(trucks: _Trucks, _net: Backbone, suspect: Suspect, _: frozenset[str]) -> None:
    trucks.joined = suspect.wrong == "short"
    trucks.at_meter = trucks.at_meter + trucks.short


def _terminator(trucks: _Trucks, _net: Backbone, suspect: Suspect, unplugged: frozenset[str]) -> None:
    if f"terminator_{suspect.index + 1}" not in unplugged:
        change = -trucks.ends[suspect.index] if suspect.wrong == "open" else trucks.short
        trucks.across[trucks.end(suspect.index)] += change


_SPOIL: dict[str, Callable[[_Trucks, Backbone, Suspect, frozenset[str]], None]] = {
    "segment": _segment,
    "module": _module,
    "stub": _stub,
    "branch": _stub,
    "connector": _connector,
    "terminator": _terminator,
}
