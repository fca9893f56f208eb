"""Building the prediction table: every check read on sampled trucks, under every fault.

The same trucks carry every fault, so that columns can be compared truck by truck. Each fault's random figures come
from a stream of its own, named by the fault: adding a fault leaves the others' predictions as they were.
"""

from __future__ import annotations

import zlib
from collections.abc import Collection, Sequence
from typing import Any

import numpy as np
import numpy.typing as npt

from linkcheck.circuit import KNOBS, Equipment, Knob, Measurement, Trucks, concatenate, measure, sample_trucks, turn
from linkcheck.diagnosis.samples import Hypothesis, Samples
from linkcheck.walk.checks import CHECKS, Check

__all__ = ["RATES_TOGETHER", "checks_for", "looks_good", "predict", "predict_table", "with_faults"]

Array = npt.NDArray[Any]

TRUCKS = 400
AT_ONCE = 2000  # trucks measured together: numpy's overhead is small by then, and memory stays so
BROKEN_OHMS, BAD_CONTACT_OHMS = 1e3, 1.0  # seen on a fuse, on a terminal
STRAYS, STRAY = 0.1, 10.0  # share of trucks whose short or leakage goes beyond the knob's range, and how far at most
RATES_TOGETHER = 750_000.0  # 250 and 500 kbit/s: one less this is the other


def checks_for(equipment: Equipment) -> tuple[Check, ...]:
    """The checks that make sense on such a truck: without a J1708 pair or a shield, none of theirs."""
    has = {"j1708": equipment.j1708 is not False, "shield": equipment.shield is not False}
    return tuple(check for check in CHECKS.values() if check.need is None or has[check.need])


def with_faults(trucks: Trucks, which: Hypothesis, seed: int) -> Trucks:
    """The trucks with these faults, one after the other; what touches the shield needs one."""
    for fault in which:
        if fault.endswith("-shield"):
            trucks = trucks.changed(shield_fitted=True)
        rng = np.random.default_rng([seed, zlib.crc32(fault.encode())])
        severity = _severity(KNOBS[fault], rng, len(trucks))
        trucks = turn(trucks, KNOBS[fault], rng, severity=severity).trucks
    return trucks


def _severity(knob: Knob, rng: np.random.Generator, count: int) -> Array:
    """How far each truck's fault goes: as the knob draws it, but of shorts and leakages some beyond.

    Where "short" ends and "wet" begins is only judgement; in between there must be no reading that neither explains,
    or a third fault gets it for itself. Few, because every truck out there is missing where it is likely: with twice
    as many, and wider, ten single faults in a hundred more were lost among foreign trucks.
    """
    drawn = np.asarray(knob.severity(rng, None, (count,)), np.float64)
    stray = np.exp(rng.uniform(0.0, np.log(STRAY), count))
    strays = rng.random(count) < STRAYS
    if "short" in knob.fault:
        return np.where(strays, drawn * stray, drawn)
    return np.where(strays, drawn / stray, drawn) if knob.fault.startswith("leakage") else drawn


def predict(trucks: Trucks, checks: Sequence[Check], bit_rate: float) -> Array:
    """What each check reads on each truck: float64[checks, trucks], volts, ohms or the index of a category.

    Args:
        trucks: with their faults in them.
        checks: which.
        bit_rate: that the trucks should have, in bit/s; adapters are set to it, or to the other one.

    """
    found, rows, asked = np.empty((len(checks), len(trucks))), [], []
    for k, check in enumerate(checks):
        if check.quantity == "look":
            found[k] = looks_good(trucks, check.id)
        else:
            rate = RATES_TOGETHER - bit_rate if check.other_rate else bit_rate
            asked.append(Measurement(check.state, check.quantity, check.red, check.black, rate))
            rows.append(k)
    found[rows] = measure(trucks, asked)
    for k, check in enumerate(checks):
        if check.quantity == "heard":  # a module that sleeps with the key on is not expected to talk
            expected = (trucks["module_present"] & ~trucks["module_standby"]).sum(axis=0)
            found[k] = (found[k] > 0.0).astype(int) + (found[k] >= expected)
    return found


def looks_good(trucks: Trucks, look: str) -> Array:
    """Whether eyes see nothing wrong, bool[B]: a fuse's element whole; no terminal out of place, spread or green."""
    if look == "look:fuse":
        return np.asarray(trucks["fuse_ohms"] < BROKEN_OHMS)
    bad = (trucks["contact_ohms"] > BAD_CONTACT_OHMS).any(axis=0)
    for ends, ohms in trucks.bridges.items():
        if all(end.endswith(".wire") for end in ends):  # water or a bent terminal between two cavities
            bad = bad | np.isfinite(ohms)
    return np.asarray(~bad)


def predict_table(
    equipment: Equipment,
    hypotheses: Sequence[Hypothesis],
    *,
    seed: int = 1,
    size: int = TRUCKS,
    only: Collection[str] | None = None,
) -> Samples:
    """The table of predictions for a kind of truck.

    Args:
        equipment: what is known of the truck.
        hypotheses: the faults and pairs of faults; the empty one is the sound truck.
        seed: of all sampling; the same seed gives the same table.
        size: trucks a hypothesis.
        only: ids of the checks wanted; all that make sense where not given.

    """
    checks = [check for check in checks_for(equipment) if only is None or check.id in only]
    trucks = sample_trucks(np.random.default_rng(seed), size, equipment)
    values = np.empty((len(hypotheses), len(checks), size), np.float32)
    step = max(1, AT_ONCE // size)
    for start in range(0, len(hypotheses), step):
        some = hypotheses[start : start + step]
        batch = concatenate(*(with_faults(trucks, which, seed) for which in some))
        found = predict(batch, checks, equipment.bit_rate)
        values[start : start + step] = found.reshape(len(checks), len(some), size).swapaxes(0, 1)
    return Samples(hypotheses, [check.observable for check in checks], values)
