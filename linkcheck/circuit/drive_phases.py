"""Who drives which lines for which share of time, on a solved network: the phases that a meter averages.

`can_stations` finds the levels between all CAN stations and asks `hearing` what follows; `module_phases`,
`second_can_phase` and `j1708_phase` are what a meter's reading is made of beside the network at rest.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from linkcheck.circuit.drivers import CanDriver, Drive, Lines, drive_can, drive_j1708
from linkcheck.circuit.hearing import Bus, Receivers, Talk, work_out
from linkcheck.circuit.link_network import j1708_lines
from linkcheck.circuit.probes import MODULES
from linkcheck.circuit.solver import REFERENCE, Network
from linkcheck.circuit.states import ADAPTERS, State
from linkcheck.circuit.supply_network import Supply
from linkcheck.circuit.trucks import Trucks

__all__ = ["Phase", "Stations", "can_stations", "j1708_phase", "module_phases", "second_can_phase"]

Array = npt.NDArray[Any]
Pins = tuple[str, str, str]  # high, low and ground of a station


@dataclass(frozen=True, slots=True, eq=False)
class Phase:
    """Stations that drive in turn.

    Attributes:
        pins: of each of the S stations.
        lines: their lines at rest, [S, B].
        drive: what they put in, [S, B].
        share: share of time that each drives, [S, B].

    """

    pins: tuple[Pins, ...]
    lines: Lines
    drive: Drive
    share: Array

    def seen_from(self, network: Network, red: str, black: str) -> tuple[Array, Array]:
        """Volts between the leads for an ampere put into each station's high line, and low line; [S, B]."""
        shape = self.share.shape
        seen = np.zeros((2, *shape))
        for k, (high, low, ground) in enumerate(self.pins):
            back = network.pair_transfer((red, black), ground) if ground != REFERENCE else 0.0
            seen[0, k] = network.pair_transfer((red, black), high) - back
            seen[1, k] = network.pair_transfer((red, black), low) - back
        return seen[0], seen[1]

    def relief(self, seen_high: Array, seen_low: Array) -> Array:
        """How much lower the resistance between the leads is while a station drives; [S, B]."""
        g_high, g_low = self.drive.high_siemens, self.drive.low_siemens
        high, low = 1.0 + g_high * self.lines.high_ohms, 1.0 + g_low * self.lines.low_ohms
        cross_high, cross_low = g_high * self.lines.mutual_ohms, g_low * self.lines.mutual_ohms
        into_high, into_low = g_high * seen_high, g_low * seen_low
        determinant = high * low - cross_high * cross_low
        flow_high = (low * into_high - cross_high * into_low) / determinant
        flow_low = (high * into_low - cross_low * into_high) / determinant
        return np.asarray(seen_high * flow_high + seen_low * flow_low)


@dataclass(frozen=True, slots=True, eq=False)
class Stations:
    """Modules, and the adapter as the last where there is one, on the CAN pair.

    Attributes:
        pins, lines, drive: as in `Phase`, whether they drive or not.
        receivers: what they are.
        talk: what follows from the levels.

    """

    pins: tuple[Pins, ...]
    lines: Lines
    drive: Drive
    receivers: Receivers
    talk: Talk


def can_stations(trucks: Trucks, state: State, supply: Supply, network: Network) -> Stations:
    """Levels between all stations, and who hears whom."""
    which = ADAPTERS.index(state.plugged_adapter) if state.plugged_adapter else None
    pins: tuple[Pins, ...] = tuple((f"{name}.high", f"{name}.low", REFERENCE) for name in MODULES)
    if which is not None:
        pins = (*pins, ("C", "D", "A"))

    def of(name: str) -> Array:
        """A figure of all stations, [S, B]."""
        modules = trucks[f"module_{name}"]
        return modules if which is None else np.concatenate([modules, trucks[f"adapter_{name}"][which][None]])

    volts = np.array([[network.volts(line) - network.volts(ground) for line in (h, low)] for h, low, ground in pins])
    transfer = _transfers(pins, network)
    own = np.arange(len(pins))
    lines = Lines(volts[:, 0], volts[:, 1], *(transfer[a, b, own, own] for a, b in ((0, 0), (1, 1), (0, 1))))
    drive = drive_can(lines, _driver(of))
    receivers = _receivers(trucks, of, supply, which)
    connected = trucks["module_present"] & _plugged(state)
    farads = np.where(connected, trucks["module_pin_farads"] + trucks["junction_farads"], 0.0)
    if which is not None:
        farads = np.concatenate([farads, trucks["adapter_pin_farads"][which][None]])
    bus = _bus(trucks, lines, transfer, drive, receivers, farads)
    return Stations(pins, lines, drive, receivers, work_out(receivers, bus))


def _plugged(state: State) -> Array:
    return np.array([name not in state.unplugged for name in MODULES])[:, None]


def _transfers(pins: tuple[Pins, ...], network: Network) -> Array:
    """Volts at station r's line a (above its ground) for an ampere into station s's line b: [a, b, r, s, B]."""
    count = len(pins)
    found = np.empty((2, 2, count, count, network.size))
    for r, at in enumerate(pins):
        for s in range(r, count):
            into = pins[s]
            for a in (0, 1):
                for b in (0, 1):
                    ohms = network.transfer(at[a], into[b])
                    if into[2] != REFERENCE:
                        ohms = ohms - network.transfer(at[a], into[2])
                    if at[2] != REFERENCE:
                        ohms = ohms - network.transfer(at[2], into[b]) + network.transfer(at[2], into[2])
                    found[a, b, r, s] = found[b, a, s, r] = ohms
    return found


def _driver(of: Callable[[str], Array]) -> CanDriver:
    ground = of("ground_volts")
    return CanDriver(
        of("rail_volts") + ground,
        ground,
        *(of(f"{side}_{name}") for name in ("drop_volts", "on_ohms", "limit_amps") for side in ("high", "low")),
    )


def _receivers(trucks: Trucks, of: Callable[[str], Array], supply: Supply, which: int | None) -> Receivers:
    active, stuck, wrong, talk = (
        supply.talking, trucks["module_stuck"], trucks["module_wrong_rate"], trucks["module_talk"] * supply.talking
    )  # fmt: skip
    if which is not None:
        quiet = np.zeros((1, len(trucks)))
        listens = supply.adapter_on & ~trucks["adapter_deaf"][which]
        active, talk = np.vstack([active, listens]), np.vstack([talk, quiet])
        stuck, wrong = (np.vstack([each, quiet.astype(np.bool_)]) for each in (stuck, wrong))
    return Receivers(
        active, of("threshold_volts"), of("hysteresis_volts"), of("common_mode_volts"), of("loop_delay_s"),
        wrong, stuck, talk,
    )  # fmt: skip


def _bus(trucks: Trucks, lines: Lines, transfer: Array, drive: Drive, receivers: Receivers, farads: Array) -> Bus:
    """Levels at every station's pins, at rest (with whoever is stuck driving) and with each station driving."""
    across = transfer[0] - transfer[1]  # difference at r for an ampere into line b of s: [b, r, s, B]
    common = (transfer[0] + transfer[1]) / 2.0
    amps = np.array([drive.high_amps, drive.low_amps])[:, None]
    across_amps, common_amps = (across * amps).sum(axis=0), (common * amps).sum(axis=0)  # [r, s, B]
    holds = receivers.stuck & receivers.active
    rest = lines.high_volts - lines.low_volts + (across_amps * holds).sum(axis=1)
    rest_common = (lines.high_volts + lines.low_volts) / 2.0 + (common_amps * holds).sum(axis=1)
    return Bus(
        rest,
        rest_common,
        (rest[:, None] + across_amps).swapaxes(0, 1),
        (rest_common[:, None] + common_amps).swapaxes(0, 1),
        ((across[0] - across[1]) * farads).sum(axis=1),
        1.0 / trucks["bit_rate"],
        trucks["sample_point"],
        trucks["busy_share"],
        trucks["unacknowledged_share"],
        trucks["erroring_share"],
    )


def module_phases(stations: Stations) -> Phase:
    """The modules' turns on the CAN pair (an adapter only acknowledges, which counts for nothing)."""
    return Phase(stations.pins, stations.lines, stations.drive, stations.talk.share)


def _pair_lines(network: Network, high: str, low: str) -> Lines:
    """A pair of lines against the chassis, [1, B]."""
    ohms = [
        np.broadcast_to(network.transfer(*ends), (1, network.size)) for ends in ((high, high), (low, low), (high, low))
    ]
    return Lines(network.volts(high)[None], network.volts(low)[None], *ohms)


def second_can_phase(trucks: Trucks, supply: Supply, network: Network) -> Phase | None:
    """The second pair's turn; its modules are one, which talks when module 1 does."""
    share = trucks["can2_share"] * (trucks["can2_fitted"] & supply.talking[0])
    if not share.any():
        return None
    lines = _pair_lines(network, "can2.high", "can2.low")
    drive = drive_can(lines, _driver(lambda name: trucks[f"can2_{name}"][None]))
    return Phase((("can2.high", "can2.low", REFERENCE),), lines, drive, share[None])


def j1708_phase(trucks: Trucks, state: State, supply: Supply, network: Network) -> Phase | None:
    """The turn of a J1708 node: the first module that has one and talks stands for all of them."""
    able = supply.talking & trucks["module_j1708_fitted"] & _plugged(state)
    share = trucks["j1708_share"] * able.any(axis=0)
    if not share.any():
        return None
    nodes = ("j1708.plus", "j1708.minus")
    added = np.zeros((2, 2, len(trucks)))  # siemens and amperes, plus and minus
    first = able.argmax(axis=0)
    for k in np.unique(first):
        for side, line in enumerate(j1708_lines(trucks, "module", int(k), nodes, supply.talking[k])):
            here = (first == k) & able[k]
            siemens, amps = line.driven_siemens - line.idle_siemens, line.driven_siemens * line.driven_volts - line.idle_siemens * line.idle_volts  # fmt: skip
            added[0, side] = np.where(here, siemens, added[0, side])
            added[1, side] = np.where(here, amps, added[1, side])
    lines = _pair_lines(network, *nodes)
    drive = drive_j1708(lines, (added[0, :1], added[0, 1:]), (added[1, :1], added[1, 1:]))
    return Phase(((*nodes, REFERENCE),), lines, drive, share[None])
