"""Trucks for the simulated technician: every check of the walk, read by ngspice on trucks drawn wider than the table's.

The netlists share no code with linkcheck's solver; topology comes from the same parameter list, but tolerances, biases,
standby modules, joints, loads and severities are drawn anew here, and `Untidy` adds what the circuit leaves out.
"""

import pickle
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from against.spice_truck import Ask, Plain, Untidy, read
from listed_faults import LISTED

from linkcheck.circuit import KNOBS, Equipment, sample_trucks, turn
from linkcheck.walk.checks import HEARD, LOOKS
from linkcheck.walk.table import RATES_TOGETHER, checks_for, looks_good

JOINTS = [
    "contact_ohms",
    "feed_splice_ohms",
    "stub_splice_high_ohms",
    "stub_splice_low_ohms",
    "fuse_contact_ohms",
    "ground_stud_ohms",
    "terminator_high_contact_ohms",
    "terminator_low_contact_ohms",
    "shield_ground_ohms",
    "battery_internal_ohms",
    "positive_cable_ohms",
    "negative_cable_ohms",
    "loads_key_on_ohms",
    "loads_key_off_ohms",
    "electronics_ohms",
]
WIRES = [
    "feed_wire_ohms",
    "ground_wire_ohms",
    "stub_high_ohms",
    "stub_low_ohms",
    "backbone_high_ohms",
    "backbone_low_ohms",
    "j1708_plus_wire_ohms",
    "j1708_minus_wire_ohms",
    "module_input_ohms",
    "adapter_input_ohms",
    "adapter_load_ohms",
    "busy_share",
]


@dataclass
class Subject:
    """One truck: "single", "sound", "double" or "outside"; what is wrong with it; what every check reads."""

    kind: str
    faults: tuple
    equipment: Equipment
    values: dict


def wide(rng, equipment):
    """One sound truck, tolerances wider than the table's."""
    truck = sample_trucks(rng, 1, equipment)
    new = {name: truck[name] * np.exp(rng.normal(0, 0.8, truck[name].shape)) for name in JOINTS}
    new |= {name: truck[name] * np.exp(rng.normal(0, 0.3, truck[name].shape)) for name in WIRES}
    modules = truck["module_standby"].shape
    new["module_bias_volts"] = np.clip(truck["module_bias_volts"] + rng.normal(0, 0.1), 2.0, 3.0)
    new["module_ground_volts"] = rng.normal(0, 0.06, modules)
    new["module_standby"] = rng.random(modules) < rng.choice([0, 0.05, 0.15])
    new["module_standby"][0] = False
    new["module_unpowered_factor"] = np.full(modules, np.exp(rng.uniform(0, np.log(300))))
    new["module_unpowered_bias_ohms"] = np.full(modules, np.exp(rng.uniform(np.log(2e3), np.log(1e7))))
    new["module_keep_alive"] = rng.random(modules) < rng.choice([0.1, 0.5, 0.9])
    new["module_biased_asleep"] = rng.random(modules) < rng.choice([0, 0.3, 0.8])
    new["battery_emf_volts"] = np.array([equipment.system_volts / 12 * rng.uniform(12.1, 13.0)])
    new["terminator_ohms"] = rng.uniform(114, 126, truck["terminator_ohms"].shape)
    return truck.changed(**new | within_limits(new, equipment.system_volts / 12))


def within_limits(new, batteries):
    """Supply joints of a truck that a technician would call sound, with the key on: at most 0.1 V on the ground's way,
    0.2 V on the other, 11.8 V a battery on its posts (common practice, no source)."""
    amps = new["battery_emf_volts"] * (1 / new["loads_key_on_ohms"] + 1 / new["electronics_ohms"])
    room = new["battery_emf_volts"] - 11.8 * batteries
    most = {"negative_cable_ohms": 0.1, "positive_cable_ohms": 0.2, "battery_internal_ohms": room}
    return {name: np.minimum(new[name], volts / amps) for name, volts in most.items()}


def severity(rng, fault):
    """How far a fault goes, other than the table draws it; None where there is nothing to draw."""

    def log(low, high):
        return float(np.exp(rng.uniform(np.log(low), np.log(high))))

    if fault in ("feed_resistance", "ground_resistance"):
        return log(2, 60)
    if fault.startswith("short:") or fault in ("j1708_short", "feed_short_to_ground"):
        return log(0.1, 12)
    if fault.startswith(("cavity_open", "stub_open", "backbone_open")) or fault in ("feed_open", "ground_open"):
        return np.inf if rng.random() < 0.8 else log(5e3, 1e6)
    return {
        "leakage:B-C": log(400, 1e4), "leakage:C-D": log(25, 600), "module_leakage": log(10, 600),
        "battery_low": rng.uniform(0.55, 0.9), "terminator_value": rng.choice([log(15, 85), log(180, 2e3)]),
    }.get(fault)  # fmt: skip


def faulty(rng, truck, faults):
    for fault in faults:
        truck = turn(truck, KNOBS[fault], rng, severity=severity(rng, fault)).trucks
    return truck


def outside(rng, truck):
    """A fault that no row of the catalogue describes: its name and the truck."""

    def log(low, high):
        return float(np.exp(rng.uniform(np.log(low), np.log(high))))

    kinds = {
        "B to F wet": lambda: truck.bridged("B.wire", "F.wire", log(100, 3e3)),
        "C to F wet": lambda: truck.bridged("C.wire", "F.wire", log(5, 1e3)),
        "D to G touching": lambda: truck.bridged("D.wire", "G.wire", log(1, 100)),
        "C to H touching": lambda: truck.bridged("C.wire", "H.wire", log(1, 100)),
        "D to F touching": lambda: truck.bridged("D.wire", "F.wire", log(1, 100)),
        "C to G wet": lambda: truck.bridged("C.wire", "G.wire", log(5, 1e3)),
        "divider on D": lambda: truck.bridged("D.wire", "battery_positive", 300.0).bridged("D.wire", "chassis", 150.0),
        "both terminators wrong": lambda: truck.changed(terminator_ohms=np.array([[log(150, 400)], [log(30, 90)]])),
        "all modules' bias low": lambda: truck.changed(module_bias_volts=np.full((8, 1), 1.0)),
    }  # fmt: skip
    name = str(rng.choice(list(kinds)))
    return name, kinds[name]()


def values_of(rng, truck, equipment):
    """Every check of such a truck, by ngspice: id to volts, ohms or word."""
    checks = [check for check in checks_for(equipment) if check.quantity != "look"]
    plain = Plain.of(truck, 0, Untidy.draw(rng))
    asks = [
        (plain, Ask(c.state, c.red, c.black, "listen" if c.quantity == "heard" else c.quantity,
                    RATES_TOGETHER - equipment.bit_rate if c.other_rate else equipment.bit_rate))
        for c in checks
    ]  # fmt: skip
    expected = int((truck["module_present"] & ~truck["module_standby"]).sum())
    found = {}
    for check, value in zip(checks, read(asks), strict=True):
        if check.quantity == "heard":
            found[check.id] = HEARD[(len(value[1]) > 0) + (len(value[1]) >= expected)]
        else:
            found[check.id] = value[0] if check.quantity == "listen" else value
    for look, (words, _) in LOOKS.items():
        good = bool(looks_good(truck, look)[0])
        unseen = look == "look:terminals" and rng.random() < (0.05 if good else 0.3)
        found[look] = words[good != unseen]
    return found


def subject(rng, kind, faults=()):
    """One truck of this kind, with these faults."""
    equipment = Equipment(
        system_volts=float(rng.choice([12.0, 24.0], p=[0.7, 0.3])), j1708=True,
        shield=True if any(f.endswith("-shield") for f in faults) else bool(rng.random() < 0.5),
        bit_rate=float(rng.choice([250e3, 500e3])),
    )  # fmt: skip
    truck = wide(rng, equipment)
    if kind == "outside":
        name, truck = outside(rng, truck)
        faults = (name,)
    else:
        truck = faulty(rng, truck, faults)
    return Subject(kind, tuple(sorted(faults)), equipment, values_of(rng, truck, equipment))


def fleet(seed, singles, sounds, doubles, outsides):
    """Trucks one by one; single faults evenly, in turn."""
    rng = np.random.default_rng(seed)
    start = int(rng.integers(len(LISTED)))
    jobs = [("single", (LISTED[(start + k) % len(LISTED)],)) for k in range(singles)]
    jobs += [("sound", ())] * sounds
    jobs += [("double", tuple(rng.choice(LISTED, 2, replace=False))) for _ in range(doubles)]
    jobs += [("outside", ())] * outsides
    for index, (kind, faults) in enumerate(jobs):
        yield subject(np.random.default_rng([seed, index]), kind, faults)


def save(path, subjects):
    Path(path).write_bytes(pickle.dumps(list(subjects)))
