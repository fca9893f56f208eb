"""What a learner probes on practice trucks, against ngspice: any two points, in any state, safe or not.

The netlists come from `spice_truck`, which shares no code with linkcheck's circuit. The display may differ from the
circuit by no more than a hand-held meter's data sheet allows.
"""

import numpy as np
import pytest
from against.spice_truck import NGSPICE, Ask, Plain, read
from listed_faults import LISTED

from linkcheck.circuit import State
from linkcheck.practice.hidden_truck import HiddenTruck, Probe
from linkcheck.practice.lesson_sheet import PLUGS
from linkcheck.quantities import read_reading

pytestmark = pytest.mark.skipif(NGSPICE is None, reason="ngspice is not installed (Debian: apt-get install ngspice)")

PROBES = 120
CONTACT_OHMS = 0.2  # five times the spread of what two probe tips add


def any_state(rng):
    pulled = rng.choice(PLUGS, size=rng.integers(0, 3), replace=False)
    return State(
        key=str(rng.choice(["on", "off"])),
        battery=str(rng.choice(["connected", "disconnected"])),
        adapter=str(rng.choice(["unplugged", "own", "known_good"])),
        fuse=str(rng.choice(["in", "pulled"], p=[0.8, 0.2])),
        unplugged=frozenset(map(str, pulled)),
    )


def test_what_a_learner_reads_is_what_ngspice_reads():
    rng = np.random.default_rng(8)
    jobs, seen = [], []
    for number in range(PROBES):
        fault = LISTED[number % len(LISTED)]
        truck, state = HiddenTruck([fault], seed=number), any_state(rng)
        quantity = ("dc_volts", "ohms")[number % 2]
        red, black = map(str, rng.choice(truck.points, 2, replace=False))
        jobs.append((Plain.of(truck._trucks, 0), Ask(state, red, black, quantity, 250e3)))
        seen.append((fault, state, truck.face.meter, truck.probe(Probe(quantity, red, black), state)))
    for (_, ask), (fault, state, meter, shown), expected in zip(jobs, seen, read(jobs), strict=True):
        what = f"{fault} {ask.quantity} {ask.red} {ask.black} {state}: {shown.shown}, ngspice {expected}"
        reading = read_reading(shown.typed, ask.quantity)
        if reading.over_range or expected > meter.over_limit_ohms:
            assert reading.over_range == (expected > meter.over_limit_ohms * 0.98), what
            continue
        contact = CONTACT_OHMS if ask.quantity == "ohms" else 0.0
        assert abs(reading.value - expected) <= meter.limit_of_error(reading) + 2e-3 * abs(expected) + contact, what
