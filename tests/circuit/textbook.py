"""A truck with the round figures that published fault signatures are computed for, and nothing else in the way.

5 V drivers with 0.7 V of diode and 24 ohm a side, 10 nodes of 15 kohm a line to 2.5 V (as eight of 12 kohm), wires
and contacts of next to nothing, two terminators of 120 ohm, a battery that does not sag.
"""

import numpy as np

from linkcheck.circuit import OPEN, PARAMETERS, Equipment, Trucks, sample_trucks

NOTHING = 1e-7
NODES, NODE_OHMS = 10, 15e3


def textbook_truck(n=1, system_volts=12.0, **changes) -> Trucks:
    trucks = sample_trucks(
        np.random.default_rng(1), n, Equipment(system_volts=system_volts, modules=8, second_can=True)
    )
    wires = {
        name: NOTHING
        for name in PARAMETERS
        if name.endswith(("_wire_ohms", "_splice_ohms", "contact_ohms", "_cable_ohms", "_joint_ohms"))
        or name.startswith(("backbone_", "stub_splice", "stub_high", "stub_low", "module_stub", "ground_stud"))
        or name in ("battery_internal_ohms", "fuse_ohms", "shield_ground_ohms")
    }
    quiet = {
        "loads_key_off_ohms": 1e6, "loads_key_on_ohms": 1e6, "electronics_ohms": 1e6, "feed_tap_ohms": OPEN,
        "shield_fitted": True, "terminator_ohms": 120.0, "battery_emf_volts": 12.6 * system_volts / 12.0,
        "module_standby": False, "module_keep_alive": False, "module_biased_asleep": False, "stub_at": 0,
        "junction_farads": 0.0, "j1708_share": 0.0, "module_j1708_fitted": False, "can2_terminator_ohms": 60.0,
        "sample_point": 0.875, "module_minimum_volts": 6.0,
    }  # fmt: skip
    interface = {
        "input_ohms": NODE_OHMS * 8 / NODES, "input_mismatch": 0.0, "bias_volts": 2.5, "bias_ohms": NOTHING,
        "ground_volts": 0.0, "unpowered_factor": 1.0, "unpowered_bias_ohms": 1e12, "rail_volts": 5.0,
        "high_drop_volts": 0.7, "low_drop_volts": 0.7, "high_on_ohms": 24.0, "low_on_ohms": 24.0,
        "high_limit_amps": 1e9, "low_limit_amps": 1e9,
    }  # fmt: skip
    station = {
        "threshold_volts": 0.7, "hysteresis_volts": 0.1, "common_mode_volts": 30.0, "pin_farads": 400e-12,
        "loop_delay_s": 0.2e-6, "j1708_pull_up_ohms": 4.7e3, "j1708_pull_down_ohms": 4.7e3,
        "j1708_series_ohms": 47.0, "j1708_input_ohms": 12e3,
    }  # fmt: skip
    figures = {**wires, **quiet}
    for prefix in ("module", "adapter", "can2"):
        figures |= {f"{prefix}_{name}": value for name, value in interface.items()}
    for prefix in ("module", "adapter"):
        figures |= {f"{prefix}_{name}": value for name, value in station.items()}
    figures |= {"adapter_reports_errors": True, "adapter_copes_one_way": False, "adapter_minimum_volts": 7.0}
    figures |= {"adapter_input_ohms": 1e6, "adapter_j1708_fitted": False}
    return trucks.changed(**(figures | changes))
