"""How sound modules and adapters differ: CAN interface, receiver, J1708 node, supply, sleep.

Rows only. A CAN interface (input, bias, driver) has the same rows whether it is a module's, an adapter's or stands
for the second pair; modules and adapters have a receiver and a J1708 node as well. Their names carry a prefix:
`module_`, `adapter_`, `can2_`.

TJA1051 stands for the NXP TJA1051 data sheet rev. 7, table 7; the J1708 values are those of an open-hardware
schematic of a J1708 node.
"""

from __future__ import annotations

import numpy as np

from linkcheck.circuit.distributions import (
    Array,
    Sampler,
    alike,
    chance,
    log,
    mixture,
    normal,
    of_vehicle,
    pick,
    some_trucks,
    uniform,
)
from linkcheck.circuit.parameter import ABSENT, COMMON, JOINT, NO, Axis, Parameter
from linkcheck.circuit.vehicle import Vehicles

__all__ = ["ADAPTER_PARAMETERS", "MODULE_PARAMETERS", "SECOND_CAN_PARAMETERS"]

TJA1051 = "NXP TJA1051 data sheet rev. 7, table 7"
DRIVER = f"chosen inside {TJA1051}: 1.4 to 3.3 V into 45 to 70 ohm"
J1708 = "open-hardware schematic of a J1708 node"
GEOMETRY = "length, gauge and temperature"
FIVE_PERCENT_4K7 = uniform(4.465e3, 4.935e3)

_Row = tuple[str, str, Sampler, str, str]  # name without prefix, unit, sampler, source, note

_INTERFACE: tuple[_Row, ...] = (
    (
        "input_ohms",
        "ohm",
        mixture((0.8, log(9e3, 30e3)), (0.2, log(5e3, 50e3))),
        f"{TJA1051}: 9 to 28 kohm; ISO 11898-2:2003: 5 to 50 kohm",
        "each line to the interface's bias",
    ),
    ("input_mismatch", "", uniform(-0.03, 0.03), "ISO 11898-2: 3 %", "high line up and low line down, half each"),
    ("bias_volts", "V", normal(2.5, 0.06, 2.0, 3.0), f"{TJA1051}: 2.0 to 3.0 V", "when awake"),
    ("bias_ohms", "ohm", log(1.0, 3e3), COMMON, "of the bias source"),
    ("ground_volts", "V", normal(0.0, 0.03, -0.3, 0.3), COMMON, "its ground above the chassis"),
    (
        "unpowered_factor",
        "",
        alike(0.5, log(1.0, 300.0)),
        f"{TJA1051}: 5 uA at 5 V, so 1 Mohm; older parts keep their input resistance",
        "input resistance without supply over that with supply",
    ),
    ("unpowered_bias_ohms", "ohm", alike(0.5, log(2e3, 1e7)), COMMON, "its dead bias source to ground"),
    ("rail_volts", "V", normal(5.0, 0.05, 4.75, 5.25), TJA1051, ""),
    ("high_drop_volts", "V", uniform(0.6, 0.8), DRIVER, "driver's diode"),
    ("low_drop_volts", "V", uniform(0.6, 0.8), DRIVER, "driver's diode"),
    ("high_on_ohms", "ohm", uniform(16.0, 30.0), DRIVER, ""),
    ("low_on_ohms", "ohm", uniform(16.0, 30.0), DRIVER, ""),
    ("high_limit_amps", "A", uniform(0.045, 0.1), f"{TJA1051}: 40 to 100 mA", ""),
    ("low_limit_amps", "A", uniform(0.045, 0.1), f"{TJA1051}: 40 to 100 mA", ""),
)

_STATION: tuple[_Row, ...] = (
    ("minimum_volts", "V", uniform(5.5, 9.0), COMMON, "supply below which it is dead"),
    ("threshold_volts", "V", uniform(0.6, 0.9), f"{TJA1051}: 0.5 to 0.9 V", "differential, to dominant"),
    ("hysteresis_volts", "V", uniform(0.05, 0.1), f"{TJA1051}: 50 to 200 mV", "back to recessive this much lower"),
    (
        "common_mode_volts",
        "V",
        pick({7.0: 1, 12.0: 5, 30.0: 4}),
        "ISO 11898:1993: -2 to 7 V; ISO 11898-2:2016: +-12 V; TJA1051: +-30 V",
        "upper end of what its receiver takes",
    ),
    ("pin_farads", "F", log(30e-12, 300e-12), f"{TJA1051}: 20 pF and 10 pF, and filters", "across its lines"),
    ("loop_delay_s", "s", uniform(100e-9, 250e-9), f"{TJA1051}: 40 to 250 ns", "through its transceiver and back"),
    ("j1708_pull_up_ohms", "ohm", FIVE_PERCENT_4K7, J1708, "plus line to 5 V"),
    ("j1708_pull_down_ohms", "ohm", FIVE_PERCENT_4K7, J1708, "minus line to ground"),
    ("j1708_series_ohms", "ohm", uniform(44.0, 50.0), J1708, "in each line"),
    ("j1708_input_ohms", "ohm", pick({12e3: 3, 24e3: 1, 48e3: 2, 96e3: 2}), "TIA-485 unit loads", "each line"),
    ("j1708_rail_ohms", "ohm", log(100.0, 1e5), COMMON, "its dead 5 V rail to ground"),
    ("j1708_driver_ohms", "ohm", uniform(8.0, 40.0), "TIA-485: 1.5 V into 54 ohm", "each line, when driven"),
)


def _rows(prefix: str, axis: Axis, *tables: tuple[_Row, ...]) -> tuple[Parameter, ...]:
    return tuple(
        Parameter(f"{prefix}_{name}", axis, unit, sample, source, note)
        for table in tables
        for name, unit, sample, source, note in table
    )


def _j1708_modules(rng: np.random.Generator, vehicles: Vehicles, shape: tuple[int, ...]) -> Array:
    """Module 1 and some others have a J1708 node, if the truck has the pair at all."""
    fitted = vehicles.equipment.j1708
    pair = rng.random(shape[-1]) < 0.5 if fitted is None else np.full(shape[-1], fitted)
    node = rng.random(shape) < 0.4
    node[0] = True
    return node & pair


MODULE_PARAMETERS = (
    Parameter("module_present", "module", "flag", of_vehicle("module_present"), ""),
    Parameter(
        "module_keep_alive",
        "module",
        "flag",
        some_trucks((0.5, 0.15), (0.5, 0.6)),
        COMMON,
        "its supply stays with the key off",
    ),
    Parameter(
        "module_biased_asleep",
        "module",
        "flag",
        some_trucks((0.5, 0.05), (0.5, 0.5)),
        COMMON,
        "keeps its bias when asleep, or is late",
    ),
    Parameter(
        "module_standby",
        "module",
        "flag",
        some_trucks((0.4, 0.0), (0.4, 0.04), (0.2, 0.15)),
        COMMON,
        "asleep with the key on; bias at ground",
    ),
    Parameter("module_unpowered", "module", "flag", NO, "", "its own supply or ground is lost"),
    Parameter("module_stuck", "module", "flag", NO, "", "holds the bus dominant while it has supply"),
    Parameter("module_swapped", "module", "flag", NO, "", "high and low changed over at the module"),
    Parameter("module_wrong_rate", "module", "flag", NO, "", "set to another bit rate than the bus"),
    Parameter("module_stub_high_ohms", "module", "ohm", of_vehicle("module_stub_ohms", 0.02), GEOMETRY),
    Parameter("module_stub_low_ohms", "module", "ohm", of_vehicle("module_stub_ohms", 0.02), GEOMETRY),
    Parameter("module_joint_ohms", "module", "ohm", JOINT, "published joints", "its connector, each line"),
    Parameter("module_leak_high_ohms", "module", "ohm", ABSENT, "", "inside it, high line to ground"),
    Parameter("module_leak_low_ohms", "module", "ohm", ABSENT, "", "inside it, low line to ground"),
    Parameter("module_leak_across_ohms", "module", "ohm", ABSENT, "", "inside it, line to line"),
    Parameter("module_j1708_fitted", "module", "flag", _j1708_modules, COMMON, "a J1708 node in it"),
    Parameter("module_j1708_asleep", "module", "flag", chance(0.3), COMMON, "its 5 V rail stays up when it is asleep"),
    Parameter("module_talk", "module", "", log(0.1, 1.0), COMMON, "weight of its frames among all modules' frames"),
    *_rows("module", "module", _INTERFACE, _STATION),
)

ADAPTER_PARAMETERS = (
    Parameter(
        "adapter_load_ohms",
        "adapter",
        "ohm",
        lambda rng, vehicles, shape: vehicles.batteries**2 * log(20.0, 400.0)(rng, vehicles, shape),
        COMMON,
        "0.03 to 0.6 A at 12 V",
    ),
    Parameter("adapter_terminator_ohms", "adapter", "ohm", ABSENT, "", "inside it, across C and D"),
    Parameter("adapter_dead", "adapter", "flag", NO, "", "does not power up"),
    Parameter("adapter_deaf", "adapter", "flag", NO, "", "its data lines are open"),
    Parameter("adapter_reports_errors", "adapter", "flag", chance(0.85), COMMON, "shows errors, not just nothing"),
    Parameter("adapter_copes_one_way", "adapter", "flag", chance(0.4), COMMON, "takes frames over one line of a pair"),
    Parameter("adapter_j1708_fitted", "adapter", "flag", chance(0.7), COMMON, "a J1708 node in it"),
    *_rows("adapter", "adapter", _INTERFACE, _STATION),
)

SECOND_CAN_PARAMETERS = _rows("can2", "truck", _INTERFACE)
