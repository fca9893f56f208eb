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

from linkcheck.circuit.can_network import CAN2_PAIR
from linkcheck.circuit.drivers import CanDriver, Drive, Lines, drive_can, drive_j1708
from linkcheck.circuit.hearing import Bus, Receivers, Talk, work_out
from linkcheck.circuit.j1708_network import J1708_PAIR, module_j1708
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
        seen = np.zeros((2, *self.share.shape))
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
        bus: levels and time constants at their pins.
        talk: what follows from them.

    """

    pins: tuple[Pins, ...]
    lines: Lines
    drive: Drive
    receivers: Receivers
    bus: Bus
    talk: Talk


def can_stations(trucks: Trucks, state: State, supply: Supply, network: Network) -> Stations:
    """Levels between all stations, and who hears whom."""
    which = ADAPTERS.index(state.plugged_adapter) if state.plugged_adapter else None
    pins: tuple[Pins, ...] = tuple((f"{name}.high", f"{name}.low", REFERENCE) for name in MODULES)
    if which is not None:
        pins = (*pins, ("C", "D", "A"))
    volts = np.array([[network.volts(line) - network.volts(ground) for line in (h, low)] for h, low, ground in pins])
    transfer = _transfers(pins, network)
    own = np.arange(len(pins))
    lines = Lines(volts[:, 0], volts[:, 1], *(transfer[a, b, own, own] for a, b in ((0, 0), (1, 1), (0, 1))))
    drive = drive_can(lines, _driver(_of_stations(trucks, which)))
    receivers = _receivers(trucks, state, supply, which)
    bus = _bus(trucks, lines, transfer, drive, receivers)
    return Stations(pins, lines, drive, receivers, bus, work_out(receivers, bus))


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


def _of_stations(trucks: Trucks, which: int | None) -> Callable[[str], Array]:
    """Figures of the modules and of the adapter that is plugged in, [S, B], by name."""

    def of(name: str) -> Array:
        modules = trucks[f"module_{name}"]
        return modules if which is None else np.concatenate([modules, trucks[f"adapter_{name}"][which][None]])

    return of


def _receivers(trucks: Trucks, state: State, supply: Supply, which: int | None) -> Receivers:
    of = _of_stations(trucks, which)

    def with_adapter(modules: Array, adapter: Array) -> Array:
        return modules if which is None else np.concatenate([modules, adapter[None]])

    no = np.zeros(len(trucks), np.bool_)
    listens = no if which is None else supply.adapter_on & ~trucks["adapter_deaf"][which]
    cable = trucks["junction_farads"]
    connected = trucks["module_present"] & state.modules_plugged[:, None]
    return Receivers(
        active=with_adapter(supply.talking, listens),
        threshold_volts=of("threshold_volts"),
        hysteresis_volts=of("hysteresis_volts"),
        common_mode_volts=of("common_mode_volts"),
        delay_s=of("loop_delay_s"),
        wrong_rate=with_adapter(trucks["module_wrong_rate"], no),
        stuck=with_adapter(trucks["module_stuck"], no),
        talk=with_adapter(trucks["module_talk"] * supply.talking, 0.0 * no),
        farads=(of("pin_farads") + with_adapter(cable, 0.0 * no)) * with_adapter(connected, ~no),
    )


def _bus(trucks: Trucks, lines: Lines, transfer: Array, drive: Drive, receivers: Receivers) -> Bus:
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
        ((across[0] - across[1]) * receivers.farads).sum(axis=1),
        1.0 / trucks["bit_rate"],
        trucks["sample_point"],
        trucks["busy_share"],
        trucks["unacknowledged_share"],
        trucks["erroring_share"],
    )


def module_phases(stations: Stations) -> Phase:
    """The modules' turns on the CAN pair (an adapter only acknowledges, which counts for nothing)."""
    return Phase(stations.pins, stations.lines, stations.drive, stations.talk.share)


def _pair_lines(network: Network, pair: tuple[str, str]) -> Lines:
    """A pair of lines against the chassis, [1, B]."""
    first, second = pair
    ends = ((first, first), (second, second), (first, second))
    ohms = [np.broadcast_to(network.transfer(a, b), (1, network.size)) for a, b in ends]
    return Lines(network.volts(first)[None], network.volts(second)[None], *ohms)


def second_can_phase(trucks: Trucks, supply: Supply, network: Network) -> Phase | None:
    """The second pair's turn; its modules are one, which talks when module 1 does."""
    share = trucks["can2_share"] * (trucks["can2_fitted"] & supply.talking[0])
    if not share.any():
        return None
    lines = _pair_lines(network, CAN2_PAIR)
    drive = drive_can(lines, _driver(lambda name: trucks[f"can2_{name}"][None]))
    return Phase(((*CAN2_PAIR, REFERENCE),), lines, drive, share[None])


def j1708_phase(trucks: Trucks, state: State, supply: Supply, network: Network) -> Phase | None:
    """The turn of a J1708 node: the first module that has one and talks stands for all of them."""
    able = supply.talking & trucks["module_j1708_fitted"]
    share = trucks["j1708_share"] * able.any(axis=0)
    if not share.any():
        return None
    first = able.argmax(axis=0)[None]
    siemens, amps = [], []
    for line in module_j1708(trucks, state, supply):
        siemens.append(np.take_along_axis(line.driving_siemens - line.siemens, first, axis=0))
        amps.append(np.take_along_axis(line.driving_amps - line.amps, first, axis=0))
    lines = _pair_lines(network, J1708_PAIR)
    drive = drive_j1708(lines, (siemens[0], siemens[1]), (amps[0], amps[1]))
    return Phase(((*J1708_PAIR, REFERENCE),), lines, drive, share[None])
