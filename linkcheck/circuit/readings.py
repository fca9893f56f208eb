"""Many readings of many trucks at once: one solution per state serves every reading of that state.

`measure` is what tables of predicted readings are built with; `read_volts`, `read_ohms` and `adapter_sees` are for
one reading. Readings are what the points show, without the meter's error and its leads' resistance.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
import numpy.typing as npt

from linkcheck.circuit.situation import AdapterView, Instrument, Situation
from linkcheck.circuit.states import State
from linkcheck.circuit.trucks import Trucks

__all__ = ["Measurement", "adapter_sees", "measure", "read_ohms", "read_volts"]

Array = npt.NDArray[Any]
Quantity = Literal["dc_volts", "ohms", "listen", "heard"]
CHUNK = 2000  # trucks at a time: numpy's overhead is small by then, and the tables still fit a processor's cache


@dataclass(frozen=True, slots=True)
class Measurement:
    """A reading to take.

    Attributes:
        state: the state to take it in.
        quantity: "dc_volts", "ohms" (infinite for OL), "listen" (index into `SHOWS`) or "heard" (how many modules
            the adapter hears).
        red, black: the points; not used with an adapter.
        bit_rate: what the adapter is set to, in bit/s; the bus's own where not given.

    """

    state: State
    quantity: Quantity
    red: str = ""
    black: str = ""
    bit_rate: float | None = None


def measure(trucks: Trucks, measurements: Sequence[Measurement], instrument: Instrument | None = None) -> Array:
    """All readings of all trucks, float64[measurements, B].

    Raises:
        UsageError: no such point; "listen" or "heard" without an adapter plugged in.

    """
    found = np.empty((len(measurements), len(trucks)))
    by_state: dict[State, list[int]] = {}
    for index, each in enumerate(measurements):
        by_state.setdefault(each.state, []).append(index)
    for start in range(0, len(trucks), CHUNK):
        rows = slice(start, start + CHUNK)
        some = trucks.take(rows)
        for state, indices in by_state.items():
            situation = Situation(some, state, instrument)
            for index in indices:
                found[index, rows] = _take(situation, measurements[index])
    return found


def _take(situation: Situation, wanted: Measurement) -> Array:
    match wanted.quantity:
        case "dc_volts":
            return situation.volts(wanted.red, wanted.black)
        case "ohms":
            return situation.ohms(wanted.red, wanted.black)
        case "listen":
            return situation.adapter(wanted.bit_rate).shows
        case "heard":
            return np.asarray(situation.adapter(wanted.bit_rate).heard.sum(axis=0))


def read_volts(trucks: Trucks, state: State, red: str, black: str) -> Array:
    """What a DC voltmeter shows, float64[B]."""
    return Situation(trucks, state).volts(red, black)


def read_ohms(trucks: Trucks, state: State, red: str, black: str) -> Array:
    """What an ohmmeter shows, float64[B], infinite for OL."""
    return Situation(trucks, state).ohms(red, black)


def adapter_sees(trucks: Trucks, state: State, bit_rate: float | None = None) -> AdapterView:
    """What the adapter in the connector shows."""
    return Situation(trucks, state).adapter(bit_rate)
