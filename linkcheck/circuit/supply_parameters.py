"""How sound trucks differ in their supply: battery, loads, fuse, feed, ground, the connector's contacts, the shield.

Rows only; what they mean for the circuit is in `supply_network`. Lead-acid at rest: 12.0 V a quarter full, 12.6 V
full (a published table); good joints 2-5 mohm and corroded ones 50-200 mohm (a published calculator's page).
"""

from __future__ import annotations

import numpy as np

from linkcheck.circuit.distributions import (
    Array,
    Sampler,
    chance,
    log,
    mixture,
    of_vehicle,
    pick,
    uniform,
)
from linkcheck.circuit.parameter import ABSENT, COMMON, JOINT, NO, Parameter
from linkcheck.circuit.vehicle import Vehicles
from linkcheck.circuit.wires import COLD_FUSE_OHMS

__all__ = ["SUPPLY_PARAMETERS"]

GEOMETRY = "length, gauge and temperature"
FUSE_RATINGS = {5.0: 1.0, 7.5: 1.0, 10.0: 5.0, 15.0: 2.0, 20.0: 1.0}  # amperes to how common
BOTH_BLADES = log(1e-3, 2e-2)


def _battery_volts(low: float, high: float) -> Sampler:
    return lambda rng, vehicles, shape: vehicles.batteries * rng.uniform(low, high, shape)


def _equal_power(low: float, high: float) -> Sampler:
    """Ohms at 12 V; a load of the same power on 24 V has four times as many."""
    return lambda rng, vehicles, shape: vehicles.batteries**2 * log(low, high)(rng, vehicles, shape)


def _shield(rng: np.random.Generator, vehicles: Vehicles, shape: tuple[int, ...]) -> Array:
    fitted = vehicles.equipment.shield
    return chance(0.5)(rng, vehicles, shape) if fitted is None else np.full(shape, fitted)


SUPPLY_PARAMETERS = (
    Parameter("battery_emf_volts", "truck", "V", _battery_volts(12.1, 12.85), "lead-acid table; fresh off charge more"),
    Parameter("battery_internal_ohms", "truck", "ohm", log(3e-3, 2e-2), COMMON),
    Parameter("positive_cable_ohms", "truck", "ohm", log(5e-4, 1e-2), COMMON, "post, clamp, cable to distribution"),
    Parameter("negative_cable_ohms", "truck", "ohm", log(5e-4, 1e-2), COMMON, "chassis, cable, clamp, post"),
    Parameter("loads_key_off_ohms", "truck", "ohm", _equal_power(300.0, 3e4), COMMON, "resistive, always connected"),
    Parameter("loads_key_on_ohms", "truck", "ohm", _equal_power(0.8, 15.0), COMMON, "resistive, with the key"),
    Parameter("electronics_ohms", "truck", "ohm", _equal_power(150.0, 5e3), COMMON, "behind reverse-battery diodes"),
    Parameter("electronics_drop_volts", "truck", "V", uniform(0.45, 0.75), COMMON, "of those diodes"),
    Parameter("key_supply_dead", "truck", "flag", NO, "", "nothing wakes with the key"),
    Parameter("supply_wire_ohms", "truck", "ohm", log(1e-3, 3e-2), COMMON, "distribution to the fuse"),
    Parameter(
        "fuse_ohms",
        "truck",
        "ohm",
        pick({COLD_FUSE_OHMS[rating]: weight for rating, weight in FUSE_RATINGS.items()}),
        "ISO 8820-3 type C blade fuses, cold (see wires)",
    ),
    Parameter("fuse_contact_ohms", "truck", "ohm", BOTH_BLADES, COMMON, "both blades in their sockets"),
    Parameter("feed_wire_ohms", "truck", "ohm", of_vehicle("feed_ohms"), GEOMETRY, "fuse to the feed's splice"),
    Parameter("feed_splice_ohms", "truck", "ohm", JOINT, "published joints", "splice to the back of cavity B"),
    Parameter(
        "feed_tap_ohms",
        "truck",
        "ohm",
        mixture((0.8, ABSENT), (0.2, _equal_power(200.0, 1e5))),
        COMMON,
        "another consumer on the same fuse",
    ),
    Parameter("ground_stud_ohms", "truck", "ohm", log(5e-4, 2e-2), COMMON, "chassis to the ground's splice"),
    Parameter("ground_wire_ohms", "truck", "ohm", of_vehicle("ground_ohms"), GEOMETRY, "to the back of cavity A"),
    Parameter(
        "contact_ohms",
        "cavity",
        "ohm",
        mixture((0.95, log(2e-3, 4e-2)), (0.05, log(4e-2, 0.5))),
        COMMON,
        "a terminal, from its crimp to its mating side",
    ),
    Parameter("shield_fitted", "truck", "flag", _shield, COMMON),
    Parameter("shield_wire_ohms", "truck", "ohm", log(2e-2, 2.0), COMMON, "cavity E to the shield"),
    Parameter("shield_ground_ohms", "truck", "ohm", log(5e-3, 2.0), "SAE J1939-11: one ground point", "drain wire"),
)
