"""Benches for the tests: emulated adapters, and a plan just large enough to catch a fault of one frame in 100."""

from linkcheck.bench.bench import Bench, Plan
from linkcheck.bench.harness import Harness
from linkcheck.bench.run import run_bench
from linkcheck.bench.simulation import FAULTS, SimulatedBench, SimulatedHands

SMALL = Plan("small", repeats=1, load_s=0.25, latency_frames=30, stamp_frames=110, transport_bytes=49, window=6)


def simulated(fault, plan=SMALL, seed=1):
    """A bench with a fault of `FAULTS`, or one made for the test."""
    opener = SimulatedBench(FAULTS[fault] if isinstance(fault, str) else fault, seed)
    return Bench(Harness(opener), plan, SimulatedHands(opener), seed), opener


def outcome(fault, plan=SMALL, seed=1):
    """The outcome of a whole test."""
    bench, _ = simulated(fault, plan, seed)
    return run_bench(bench, simulated=str(fault))


def only(test, fault="none", plan=SMALL):
    """The rows of one test, at the rates of the plan."""
    bench, _ = simulated(fault, plan)
    bench.usable = set(plan.rates)
    try:
        return list(test(bench))
    finally:
        bench.harness.close()
