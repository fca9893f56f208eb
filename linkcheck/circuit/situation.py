"""Sampled trucks in one state, solved: every volts, ohms and adapter reading that can be taken without touching more.

One linear solution serves all readings of the state. On top of it come the phases in which somebody drives a pair
(each module in turn, the second pair, a J1708 node), and a meter shows the mean over time: the resting reading plus,
for each phase, its share of time times what it changes. That is exact where two pairs that are driven at the same
time are not joined.

A voltmeter of 10 Mohm loads what it measures (Thevenin, separately in each phase). An ohmmeter is a source with a
resistance; it shows volts over amperes at its leads, whatever sources the truck still has: on a live circuit it lies,
as a real one does. With the battery off, electronics behind diodes conduct only if the test volts lift them.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
import numpy.typing as npt

from linkcheck.circuit.can_network import can_branches
from linkcheck.circuit.drive_phases import Phase, Stations, can_stations, j1708_phase, module_phases, second_can_phase
from linkcheck.circuit.hearing import Talk, what_adapter_shows
from linkcheck.circuit.j1708_network import j1708_branches
from linkcheck.circuit.probes import check_points
from linkcheck.circuit.solver import Branch, Network
from linkcheck.circuit.states import ADAPTERS, State
from linkcheck.circuit.supply_network import Supply, find_supply
from linkcheck.circuit.trucks import Trucks
from linkcheck.errors import UsageError

__all__ = ["AdapterView", "Instrument", "Situation"]

Array = npt.NDArray[Any]


@dataclass(frozen=True, slots=True, eq=False)
class Instrument:
    """What a meter does to the circuit (how far to believe what it shows is not asked here).

    Attributes:
        input_ohms: on DC volts; 10 Mohm is common practice.
        test_volts: of the open leads on ohms; twice what full scale shows. Float or float64[B].
        ohms_ranges: full scales; the source resistance on each is the full scale itself. Above the last one it
            shows OL.

    """

    input_ohms: float = 10e6
    test_volts: Array | float = 1.2
    ohms_ranges: tuple[float, ...] = (600.0, 6e3, 60e3, 600e3, 6e6, 40e6)


@dataclass(frozen=True, slots=True, eq=False)
class AdapterView:
    """What the adapter in the connector shows.

    Attributes:
        shows: int[B], index into `hearing.SHOWS`: no_power, silent, errors, frames.
        heard: bool[8, B], modules whose frames it takes.
        supply_volts: float64[B], at its connector.

    """

    shows: Array
    heard: Array
    supply_volts: Array


class Situation:
    """Trucks in a state.

    Args:
        trucks: the batch, B trucks.
        state: what was turned, pulled and unplugged.
        instrument: the meter.

    """

    def __init__(self, trucks: Trucks, state: State, instrument: Instrument | None = None) -> None:
        self.trucks = trucks
        self.state = state
        self.instrument = instrument or Instrument()
        self.supply: Supply = find_supply(trucks, state)
        branches = [
            *self.supply.branches,
            *can_branches(trucks, state, self.supply),
            *j1708_branches(trucks, state, self.supply),
            *(Branch(a, b, 1.0 / ohms) for (a, b), ohms in trucks.bridges.items()),
        ]
        self.network = Network(branches, len(trucks))

    @cached_property
    def stations(self) -> Stations:
        """The modules and the adapter on the CAN pair, with the levels between them."""
        return can_stations(self.trucks, self.state, self.supply, self.network)

    @property
    def talk(self) -> Talk:
        """Who hears whom and what the bus is doing."""
        return self.stations.talk

    @cached_property
    def phases(self) -> tuple[Phase, ...]:
        """Everything that drives lines for a share of time, where anything does."""
        found = [
            module_phases(self.stations) if self.supply.talking.any() else None,
            second_can_phase(self.trucks, self.supply, self.network),
            j1708_phase(self.trucks, self.state, self.supply, self.network),
        ]
        return tuple(phase for phase in found if phase is not None and phase.share.any())

    def resting_volts(self, red: str, black: str) -> Array:
        """Volts with nobody driving, as the meter loads them; float64[B]."""
        open_volts = self.network.volts(red) - self.network.volts(black)
        return self._loaded(open_volts, self.network.between(red, black))

    def driven_volts(self, phase: Phase, red: str, black: str) -> Array:
        """Volts while each station of a phase drives, as the meter loads them; float64[S, B]."""
        seen_high, seen_low = phase.seen_from(self.network, red, black)
        rest = self.network.volts(red) - self.network.volts(black)
        driven = rest + seen_high * phase.drive.high_amps + seen_low * phase.drive.low_amps
        return self._loaded(driven, self.network.between(red, black) - phase.relief(seen_high, seen_low))

    def volts(self, red: str, black: str) -> Array:
        """What a DC voltmeter shows, red lead above black lead; float64[B].

        Raises:
            UsageError: no such point.

        """
        check_points(red, black)
        rest = self.resting_volts(red, black)
        shown = rest.copy()
        for phase in self.phases:
            shown += (phase.share * (self.driven_volts(phase, red, black) - rest)).sum(axis=0)
        return shown

    def ohms(self, red: str, black: str) -> Array:
        """What an ohmmeter shows; float64[B], infinite for OL.

        Raises:
            UsageError: no such point.

        """
        check_points(red, black)
        ohms = self.network.between(red, black)
        residue = self.network.volts(red) - self.network.volts(black)
        shown = np.full(len(self.trucks), np.inf)
        for full_scale in self.instrument.ohms_ranges:  # as the meter steps up until the reading fits a range
            source, source_volts = self._with_electronics(red, black, ohms, residue, full_scale)
            amps = (self.instrument.test_volts - source_volts) / (full_scale + source)
            with np.errstate(divide="ignore", invalid="ignore"):
                reading = source + source_volts / amps
            fits = np.isinf(shown) & (amps > 0.0) & (reading >= 0.0) & (reading <= full_scale)
            shown = np.where(fits, reading, shown)
        return shown

    def adapter(self, bit_rate: float | None = None) -> AdapterView:
        """What the adapter in the connector shows when it listens.

        Args:
            bit_rate: what it is set to, in bit/s; the bus's own where not given.

        Raises:
            UsageError: no adapter is plugged in.

        """
        if self.state.plugged_adapter is None:
            raise UsageError("there is no adapter in the connector.", todo="Ask in a state with one plugged in.")
        which = ADAPTERS.index(self.state.plugged_adapter)
        same_rate = np.ones(len(self.trucks), np.bool_) if bit_rate is None else self.trucks["bit_rate"] == bit_rate
        reports, copes = (self.trucks[f"adapter_{name}"][which] for name in ("reports_errors", "copes_one_way"))
        shows, heard = what_adapter_shows(self.talk, self.supply.adapter_on, same_rate, reports, copes)
        return AdapterView(shows, heard, self.supply.adapter_volts)

    def _loaded(self, open_volts: Array, source_ohms: Array) -> Array:
        return np.asarray(open_volts / (1.0 + source_ohms / self.instrument.input_ohms))

    def _with_electronics(
        self, red: str, black: str, ohms: Array, residue: Array, full_scale: float
    ) -> tuple[Array, Array]:
        """Resistance and volts behind the leads, with the electronics where the test volts lift their diodes."""
        t = self.trucks
        seen = self.network.pair_transfer((red, black), "distribution")
        amps = (self.instrument.test_volts - residue) / (full_scale + ohms)
        lifted = self.network.volts("distribution") + seen * amps
        conducts = ~self.supply.electronics_on & (lifted > t["electronics_drop_volts"])
        if not np.any(conducts):
            return ohms, residue
        loop = t["electronics_ohms"] + self.network.transfer("distribution", "distribution")
        push = t["electronics_drop_volts"] - self.network.volts("distribution")
        return (
            np.where(conducts, ohms - seen**2 / loop, ohms),
            np.where(conducts, residue + seen * push / loop, residue),
        )
