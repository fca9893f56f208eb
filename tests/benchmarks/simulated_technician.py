"""Walks of a simulated technician on trucks that ngspice reads, beside the same technician in the trade's fixed order.

Prints share found, mean readings and minutes, what was confirmed and wrong, and a reliability table.

    python tests/benchmarks/simulated_technician.py --make trucks.pkl --seed 1 [--singles 86 --sounds 14 ...]
    python tests/benchmarks/simulated_technician.py trucks.pkl [more.pkl]
"""

import argparse
import os
import pickle
import sys
import time
from collections import defaultdict
from dataclasses import replace
from pathlib import Path

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # matrices are small: threads only get in each other's way

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1]))

from benchmarks.technician import Technician
from benchmarks.technician_trucks import fleet, save

from linkcheck.circuit import State
from linkcheck.errors import LinkcheckError
from linkcheck.faults.catalogue import prior_odds
from linkcheck.jobs.tables import cached_table, full_table
from linkcheck.pinout import find_pinout, load_pinout
from linkcheck.walk.checks import CHECKS
from linkcheck.walk.costs import minutes_for
from linkcheck.walk.engine import Walk, read_answer
from linkcheck.walk.judge import Judge, Rules
from linkcheck.walk.layout import layout_of
from linkcheck.walk.messages import Answer, Setup

# The trade's order: supply first, all volts, then ohms, then unplugging (common practice, no source).
FIXED_ORDER = [
    "volts:B-A:key_off",
    "volts:battery_positive-battery_negative:key_off",
    "listen:own",
    "volts:B.wire-A.wire:plugged",
    "volts:C-A:key_on",
    "volts:D-A:key_on",
    "volts:F-A:key_on",
    "volts:G-A:key_on",
    "ohms:C-D:dead",
    "ohms:C-A:dead",
    "ohms:D-A:dead",
    "ohms:F-G:dead",
    "volts:B-chassis:key_off",
    "volts:fuse_out-chassis:key_off",
    "ohms:fuse_out-chassis:fuse_out",
    "ohms:A-chassis:dead",
    "ohms:C.wire-D.wire:dead",
    "ohms:C-C.wire:dead",
    "ohms:D-D.wire:dead",
    "listen:known_good",
    "listen:own:other_rate",
    "ohms:C-D:no_modules",
    "ohms:terminator_1.high-terminator_2.high:dead",
    "ohms:terminator_1.low-terminator_2.low:dead",
    "ohms:terminator_1.a-terminator_1.b:no_terminator_1",
    "ohms:terminator_2.a-terminator_2.b:no_terminator_2",
]
# What no check of a meter or an adapter tells apart from the other: answered with either, it counts as right.
TWINS = {"terminators_extra": "terminator_value"}


class Benches:
    """A judge for each kind of truck."""

    def __init__(self, rules, known_shield=False):
        self.rules = rules
        self.judges = {}
        self.known_shield = known_shield

    def of(self, equipment):
        pinout = load_pinout(find_pinout("9-pin-type-1"))
        shield = equipment.shield if self.known_shield else None
        layout = layout_of(
            pinout, system_volts=equipment.system_volts, bit_rate=round(equipment.bit_rate), shield=shield
        )
        key = repr(layout.equipment)
        if key not in self.judges:
            table = cached_table(layout, 1) or full_table(layout, 1)
            known = set(layout.faults())
            odds = {fault: share for fault, share in prior_odds().items() if fault in known}
            self.judges[key] = layout, Judge(table, odds, self.rules, equipment.system_volts)
        return self.judges[key]


def walked(benches, subject, seed, by_eye=False, most=25, log=None):
    """One walk to its end: finding, suspects, seconds of the slowest step."""
    layout, judge = benches.of(subject.equipment)
    technician = Technician(subject, seed)
    walk = Walk(Setup("9-pin-type-1", max_checks=most, by_eye=by_eye), layout, judge)
    slowest = 0.0
    while (check := walk.check) is not None:
        text = technician.answer(check)
        start = time.perf_counter()
        reason = walk.opinion.reason
        try:
            walk.take(Answer(check.id, text))
        except LinkcheckError:  # a slip that no truck can show is seen at once
            walk.take(Answer(check.id, technician.answer(check, slip=0.0)))
        slowest = max(slowest, time.perf_counter() - start)
        if log:
            top = [(s["fault"], s["probability"]) for s in walk.suspects.suspects[:3]]
            fit = walk.opinion.misfit and round(walk.opinion.misfit.p_value, 3)
            log(f"    {reason:6} {check.id:52} {text!s:>10} {top} unknown {walk.suspects.none_of_these:.2f} fit {fit}")
    return walk, slowest


def right(faults, truth):
    """The set named is the set there."""
    plain = [TWINS.get(fault, fault) for fault in faults if fault != "none"]
    return sorted(plain) == sorted(TWINS.get(fault, fault) for fault in truth)


def fixed(benches, subject, seed, sure):
    """The same technician in the fixed order, same likelihoods, until one fault has this probability."""
    _, judge = benches.of(subject.equipment)
    technician, taken, minutes, state = Technician(subject, seed), [], 0.0, State()
    for name in FIXED_ORDER:
        check = CHECKS[name]
        try:
            taken.append(read_answer(check, technician.answer(check))[0])
        except LinkcheckError:
            taken.append(read_answer(check, technician.answer(check, slip=0.0))[0])
        minutes += minutes_for(check, state)
        state = check.state
        belief = judge.weigher.belief(taken)
        if belief.probability(belief.leader) >= sure:
            break
    return belief.leader, len(taken), minutes


def report(subjects, rules, *, verbose=False, known_shield=False, by_eye=False):
    benches = Benches(rules, known_shield)
    rows, calibration, slow = defaultdict(list), [], []
    for index, subject in enumerate(subjects):
        lines = []
        walk, slowest = walked(benches, subject, index, by_eye, log=lines.append if verbose else None)
        slow.append(slowest)
        belief, found = walk.opinion.belief, walk.finding
        leader = belief.leader
        is_right = right(leader, subject.faults) if subject.kind != "outside" else belief.none_of_these > 0.5
        # Named though it is not there. A second fault that stays hidden is counted under "faults found".
        wrong = found.confirmed and (
            subject.kind == "outside" or not set(leader) <= set(subject.faults) or (not leader and subject.faults)
        )
        partly = len(set(leader) & set(subject.faults))
        rows[subject.kind].append(
            (is_right, found.confirmed, wrong, found.readings, found.minutes, partly, belief.none_of_these > 0.5)
        )
        calibration.append((belief.probability(leader), right(leader, subject.faults)))
        if verbose:
            print(
                index,
                subject.kind,
                subject.faults,
                "->",
                leader,
                round(belief.probability(leader), 2),
                "CONFIRMED" if found.confirmed else walk.opinion.reason,
                found.readings,
                "" if is_right else "NOT RIGHT",
                "WRONGLY" if wrong else "",
                flush=True,
            )
            print("\n".join(lines))
    print("kind      trucks  right  confirmed  confirmed wrong  readings  minutes  faults found  none of these")
    for kind, some in rows.items():
        x = np.array(some, float)
        print(
            f"{kind:9} {len(x):6} {x[:, 0].mean():6.3f} {x[:, 1].mean():10.3f} {int(x[:, 2].sum()):16}"
            f" {x[:, 3].mean():9.2f} {x[:, 4].mean():8.1f} {x[:, 5].mean():13.2f} {x[:, 6].mean():14.2f}",
            flush=True,
        )
    print("claimed   trucks  mean claimed  right")
    x = np.array(calibration, float)
    for low, high in ((0, 0.5), (0.5, 0.8), (0.8, 0.9), (0.9, 0.95), (0.95, 0.99), (0.99, 1.01)):
        some = x[(x[:, 0] >= low) & (x[:, 0] < high)]
        if len(some):
            print(f"{low:.2f}-{high:.2f} {len(some):6} {some[:, 0].mean():13.3f} {some[:, 1].mean():6.3f}")
    print(f"slowest step {max(slow):.2f} s, median of slowest {np.median(slow):.2f} s")


def report_fixed(subjects, rules):
    benches = Benches(rules)
    x = np.array(
        [
            (right(leader, subject.faults), readings, minutes)
            for index, subject in enumerate(subjects)
            if subject.kind in ("single", "sound")
            for leader, readings, minutes in [fixed(benches, subject, index, rules.sure)]
        ],
        float,
    )
    print(f"fixed order: right {x[:, 0].mean():.3f}, readings {x[:, 1].mean():.2f}, minutes {x[:, 2].mean():.1f}")


def main():
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("files", nargs="*")
    parser.add_argument("--make")
    parser.add_argument("--seed", type=int, default=1)
    for name, default in (("singles", 86), ("sounds", 14), ("doubles", 20), ("outsides", 20)):
        parser.add_argument(f"--{name}", type=int, default=default)
    parser.add_argument("--rule", action="append", default=[], metavar="NAME=VALUE", help="another rule of the judge")
    parser.add_argument("--verbose", action="store_true")
    parser.add_argument("--fixed", action="store_true")
    parser.add_argument("--by-eye", action="store_true")
    args = parser.parse_args()
    if args.make:
        save(args.make, fleet(args.seed, args.singles, args.sounds, args.doubles, args.outsides))
        return
    subjects = [each for name in args.files for each in pickle.loads(Path(name).read_bytes())]  # noqa: S301 - a file of our own
    rules = replace(Rules(), **{name: float(value) for name, value in (each.split("=") for each in args.rule)})
    report(subjects, rules, verbose=args.verbose, by_eye=args.by_eye)
    if args.fixed:
        report_fixed(subjects, rules)


if __name__ == "__main__":
    main()
