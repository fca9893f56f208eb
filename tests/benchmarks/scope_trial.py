"""How often the number of terminators is told right from a trace alone: random buses solved by ngspice, no timing.

`python tests/benchmarks/scope_trial.py [HOW MANY]` prints a table; nothing is asserted.
"""

import sys
from collections import Counter
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1]))

from physical.spice_line import random_bus
from physical.spice_scope import record

from linkcheck.physical.waveform import Waveform
from linkcheck.verdict.waveform import read_waveform

ENDS = {"two": (120.0, 120.0), "one": (120.0, None), "none": (None, None), "three": (60.0, 120.0)}
FRAMES = ((0, 0x18EAFF00, (0xEB, 0xFE, 0x00), True), (2, 0x0CF00403, (0x11, 0x7D, 0x33), True))


def main(trials):
    """Print the table."""
    rng = np.random.default_rng(7)
    told, sure = Counter(), Counter()
    for trial in range(trials):
        name = list(ENDS)[trial % 4]
        bus = random_bus(rng, 4, ENDS[name][:: rng.choice([1, -1])])
        seconds, high, low = record(bus, FRAMES, 500e3, at=int(rng.integers(4)), seed=trial)
        odds = read_waveform(Waveform(0.0, seconds[1] - seconds[0], high, low)).terminators
        best = max(odds, key=odds.get)
        told[name, best] += 1
        sure[odds[best] > 0.9, best == name] += 1
        print(trial, name, best, round(odds[best], 3), flush=True)
    for name in ENDS:
        print(f"{name:<6}", {best: told[name, best] for best in ENDS if told[name, best]})
    print("over 90 % sure: right", sure[True, True], "wrong", sure[True, False])


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 80)
