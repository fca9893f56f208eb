"""One simulated truck that hides a fault, to be probed freely: any two points, in any state.

The truck is a sampled one of `circuit`, its faults are the circuit's own knobs, and every reading is a solution of that
circuit, seen through a meter (`meter_face`). Nothing here knows what a reading means, and nobody is told what is hidden
but through `hidden`.

The circuit's six modules are the six of the invented truck whose traffic can be recorded (`practice.truck`).
"""

from __future__ import annotations

import zlib
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

import numpy as np

from linkcheck.circuit import (
    ACTIVITIES,
    KNOBS,
    MODULES,
    POINTS,
    SHOWS,
    Change,
    Equipment,
    Knob,
    Situation,
    State,
    Trucks,
    sample_trucks,
    turn,
)
from linkcheck.circuit.probes import check_points
from linkcheck.errors import UsageError
from linkcheck.faults.catalogue import FAULTS
from linkcheck.practice.hidden_faults import MODULE_ADDRESSES, whereabouts
from linkcheck.practice.meter_face import MeterFace

__all__ = ["HiddenFault", "HiddenTruck", "Probe", "Seen"]

Quantity = Literal["dc_volts", "ohms", "listen"]


@dataclass(frozen=True, slots=True)
class Probe:
    """What the learner measures: two points, or an adapter listening.

    Attributes:
        quantity: "dc_volts", "ohms" or "listen".
        red, black: points of the circuit; empty with an adapter.
        bit_rate: what the adapter is set to, in bit/s; what the truck should have where not given.

    Raises:
        UsageError: no such point.

    """

    quantity: Quantity
    red: str = ""
    black: str = ""
    bit_rate: float | None = None

    def __post_init__(self) -> None:
        if self.quantity != "listen":
            check_points(self.red, self.black)


@dataclass(frozen=True, slots=True)
class Seen:
    """What a probe showed.

    Attributes:
        typed: as one types it for the walk: "12.41", "4.702k", "OL", "frames".
        shown: as the meter or the adapter shows it: "12.41 V", "OL", "frames".
        figure: volts or ohms of the circuit itself, without the meter; None with an adapter.
        volts_across: what a voltmeter would show between the same points, where it was on ohms.
        heard: source addresses that the adapter takes frames from; empty with a meter.

    """

    typed: str
    shown: str
    figure: float | None = None
    volts_across: float = 0.0
    heard: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class HiddenFault:
    """A fault as it is on this truck.

    Attributes:
        id: key into the catalogue.
        severity: how far it goes, in the knob's unit; None where there is nothing to say.
        unit: "ohm", "of its volts" or "".
        where: where it sits, in words; empty where its title says it all.

    """

    id: str
    severity: float | None
    unit: str
    where: str


class HiddenTruck:
    """A truck with faults in it.

    Args:
        faults: ids, none for a sound truck.
        seed: which truck, which meter, where the faults sit and how far they go.
        system_volts: 12 or 24.
        bit_rate: that the truck should have, in bit/s.
        j1708: whether it has the older pair.

    Raises:
        UsageError: no such fault.

    """

    def __init__(
        self,
        faults: Sequence[str],
        seed: int,
        *,
        system_volts: float = 12.0,
        bit_rate: float = 250_000.0,
        j1708: bool = True,
    ) -> None:
        for fault in faults:
            if fault not in KNOBS or fault not in FAULTS:
                raise UsageError("there is no such fault.", where=fault, todo="linkcheck practice --list names them.")
        self.seed = seed
        self.bit_rate = bit_rate
        self.faults = tuple(fault for fault in dict.fromkeys(faults) if fault != "none")
        rng = np.random.default_rng([seed, 43])
        shield = bool(rng.random() < 0.5) or any(fault.endswith("-shield") for fault in self.faults)
        self.equipment = Equipment(
            system_volts=system_volts, j1708=j1708, shield=shield, bit_rate=bit_rate, modules=len(MODULE_ADDRESSES)
        )
        # Every module is awake with the key, so that one that is not heard means something.
        self._sound = sample_trucks(rng, 1, self.equipment).changed(module_standby=False)
        self.face = MeterFace(seed)
        self._trucks, self.hidden = self._with(self.faults)
        self._situation = lru_cache(maxsize=32)(self._make_situation)

    def _with(self, faults: Sequence[str]) -> tuple[Trucks, tuple[HiddenFault, ...]]:
        trucks, told = self._sound, []
        for fault in faults:
            knob = KNOBS[fault]
            # A stream of its own: a repair of one leaves the other as it was.
            turned = turn(trucks, knob, np.random.default_rng([self.seed, zlib.crc32(fault.encode())]))
            place = _place_of(knob, int(turned.way[0]), trucks, turned.trucks)
            trucks = turned.trucks
            severity = float(turned.severity[0]) if knob.unit and np.isfinite(turned.severity[0]) else None
            told.append(HiddenFault(fault, severity, knob.unit, whereabouts(knob, int(turned.way[0]), place)))
        return trucks, tuple(told)

    def without(self, fault: str) -> None:
        """One of its faults is repaired."""
        self.faults = tuple(each for each in self.faults if each != fault)
        self._trucks, self.hidden = self._with(self.faults)
        self._situation.cache_clear()

    def _make_situation(self, state: State) -> Situation:
        return Situation(self._trucks, state)

    @property
    def points(self) -> tuple[str, ...]:
        """Where the leads can go on this truck: the modules it does not have are left out."""
        fitted = MODULES[: len(MODULE_ADDRESSES)]
        return tuple(point for point in POINTS if not point.startswith("module") or point.split(".")[0] in fitted)

    def probe(self, probe: Probe, state: State, times: int = 0) -> Seen:
        """What a probe shows in a state.

        Args:
            probe: what is measured.
            state: that the truck is in.
            times: how often the same was measured before; each time has its own last digit.

        Raises:
            UsageError: to listen without an adapter in the connector.

        """
        if probe.quantity == "listen":
            return self._listen(probe, state)
        situation = self._situation(state)
        volts = float(situation.volts(probe.red, probe.black)[0])
        what = f"{probe} {sorted(state.unplugged)} {state.key} {state.battery} {state.adapter} {state.fuse} {times}"
        if probe.quantity == "dc_volts":
            display = self.face.volts(volts, what)
            return Seen(display.typed, display.shown, volts)
        ohms = float(situation.ohms(probe.red, probe.black)[0])
        display = self.face.ohms(ohms, what)
        return Seen(display.typed, display.shown, ohms, volts_across=volts)

    def activity(self, state: State) -> str:
        """What the CAN pair is doing in a state: "idle", "busy", "erroring" or "unacknowledged"."""
        return ACTIVITIES[int(self._situation(state).talk.activity[0])]

    def held(self, state: State) -> bool:
        """Whether the pair rests dominant at every station that is awake, so that nobody can begin a frame."""
        stations = self._situation(state).stations
        awake = stations.receivers.active[:, 0]
        return bool(awake.any() and stations.talk.held[awake, 0].all())

    def _listen(self, probe: Probe, state: State) -> Seen:
        view = self._situation(state).adapter(probe.bit_rate or self.bit_rate)
        word = SHOWS[int(view.shows[0])]
        heard = tuple(
            address for address, takes in zip(MODULE_ADDRESSES, view.heard[:, 0], strict=False) if takes.item()
        )
        return Seen(word, word.replace("_", " "), heard=heard if word == "frames" else ())


def _place_of(knob: Knob, way: int, before: Trucks, after: Trucks) -> int:
    """Which module, piece or terminator was chosen: the one whose figure has changed; -1 where nothing was chosen."""
    for change in knob.ways[way]:
        if isinstance(change, Change) and change.place == "chosen":
            return int(np.argmax(before[change.parameter][:, 0] != after[change.parameter][:, 0]))
    return -1
