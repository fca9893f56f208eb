"""How sound trucks differ in their data links: backbone, stub, terminators, bit rate, traffic, J1708 and second pair.

Rows only; what they mean for the circuit is in `link_network`.
"""

from __future__ import annotations

import numpy as np

from linkcheck.circuit.distributions import (
    Array,
    chance,
    log,
    mixture,
    of_vehicle,
    uniform,
)
from linkcheck.circuit.parameter import ABSENT, COMMON, JOINT, MEMORY, NO, Parameter
from linkcheck.circuit.vehicle import Vehicles

__all__ = ["LINK_PARAMETERS"]

GEOMETRY = "length, gauge and temperature"
JOINTS = "published joints: good 2-5 mohm, corroded 50-200 mohm"


def _backbone(rng: np.random.Generator, vehicles: Vehicles, shape: tuple[int, ...]) -> Array:
    """One conductor of each piece, with the splice at its end where the piece is real."""
    real = vehicles.segment_metres > 0.0
    return vehicles.segment_ohms + np.where(real, JOINT(rng, vehicles, shape), 0.0)


def _cable_farads(rng: np.random.Generator, vehicles: Vehicles, shape: tuple[int, ...]) -> Array:
    """Capacitance of the cable before each module's junction, that of the last piece spread over all."""
    metres = vehicles.segment_metres[:-1] + vehicles.segment_metres[-1] / len(vehicles.module_present)
    return np.asarray(metres * rng.uniform(40e-12, 110e-12, shape))


def _bit_rate(_rng: np.random.Generator, vehicles: Vehicles, shape: tuple[int, ...]) -> Array:
    return np.full(shape, vehicles.equipment.bit_rate)


def _second_can(rng: np.random.Generator, vehicles: Vehicles, shape: tuple[int, ...]) -> Array:
    fitted = vehicles.equipment.second_can
    return chance(0.3)(rng, vehicles, shape) if fitted is None else np.full(shape, fitted)


LINK_PARAMETERS = (
    Parameter("stub_at", "truck", "index", of_vehicle("stub_at"), "", "junction of the connector's stub, 0 to 7"),
    Parameter("backbone_high_ohms", "segment", "ohm", _backbone, GEOMETRY, "CAN high, each piece with its splice"),
    Parameter("backbone_low_ohms", "segment", "ohm", _backbone, GEOMETRY, "CAN low"),
    Parameter("stub_splice_high_ohms", "truck", "ohm", JOINT, JOINTS),
    Parameter("stub_splice_low_ohms", "truck", "ohm", JOINT, JOINTS),
    Parameter("stub_high_ohms", "truck", "ohm", of_vehicle("stub_ohms", 0.02), GEOMETRY),
    Parameter("stub_low_ohms", "truck", "ohm", of_vehicle("stub_ohms", 0.02), GEOMETRY),
    Parameter("swapped_cd", "truck", "flag", NO, "", "high and low changed over at the connector"),
    Parameter("swapped_fg", "truck", "flag", NO, "", "plus and minus changed over at the connector"),
    Parameter(
        "terminator_ohms",
        "terminator",
        "ohm",
        mixture((0.70, uniform(118.8, 121.2)), (0.25, uniform(114.0, 126.0)), (0.05, uniform(105.0, 130.0))),
        "120 ohm 1 % or 5 %; 100 to 130 ohm by ISO 11898-2:2003, 7.5.2",
    ),
    Parameter("terminator_high_contact_ohms", "terminator", "ohm", log(3e-3, 0.1), COMMON),
    Parameter("terminator_low_contact_ohms", "terminator", "ohm", log(3e-3, 0.1), COMMON),
    Parameter("extra_terminator_ohms", "place", "ohm", ABSENT, ""),
    Parameter("junction_farads", "module", "F", _cable_farads, f"SAE J1939-11, {MEMORY}: 40-75 pF/m, more to a shield"),
    Parameter("bit_rate", "truck", "bit/s", _bit_rate, ""),
    Parameter("sample_point", "truck", "", uniform(0.75, 0.875), "CiA recommendation: 87.5 % up to 500 kbit/s"),
    Parameter(
        "busy_share",
        "truck",
        "",
        mixture((0.95, log(0.02, 0.28)), (0.05, log(1e-3, 0.02))),
        "0.43 of a frame is dominant (a public truck capture); 5 to 65 % bus load; quiet ones wait to be asked",
        "share of time a healthy bus is dominant",
    ),
    Parameter("unacknowledged_share", "truck", "", uniform(0.28, 0.46), "as above, frames back to back"),
    Parameter("erroring_share", "truck", "", log(0.005, 0.5), COMMON, "error flags, retries, pauses after bus-off"),
    Parameter("j1708_share", "truck", "", uniform(0.0, 0.15), "up to 30 % load, half the bits driven"),
    Parameter("j1708_plus_wire_ohms", "truck", "ohm", of_vehicle("j1708_ohms", 0.02), GEOMETRY),
    Parameter("j1708_minus_wire_ohms", "truck", "ohm", of_vehicle("j1708_ohms", 0.02), GEOMETRY),
    Parameter("can2_fitted", "truck", "flag", _second_can, COMMON, "a second pair on cavities H and J"),
    Parameter("can2_terminator_ohms", "truck", "ohm", uniform(57.0, 63.0), "two terminators of 120 ohm, 5 %"),
    Parameter("can2_high_wire_ohms", "truck", "ohm", of_vehicle("second_can_ohms", 0.02), GEOMETRY),
    Parameter("can2_low_wire_ohms", "truck", "ohm", of_vehicle("second_can_ohms", 0.02), GEOMETRY),
    Parameter("can2_share", "truck", "", log(0.02, 0.28), "as busy_share"),
)
