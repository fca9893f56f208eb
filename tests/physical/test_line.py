"""Waves on random buses against ngspice's transmission lines, and against textbook reflections."""

import numpy as np
import pytest
from physical.spice_line import NGSPICE, random_bus, solve

from linkcheck.physical import Bus, Cable, Driver, Station, Terminator
from linkcheck.physical.line import STEP_S, lay, swing

needs_ngspice = pytest.mark.skipif(NGSPICE is None, reason="ngspice is not installed (Debian: apt-get install ngspice)")
TERMINATORS = {"two": (120.0, 120.0), "one": (120.0, None), "none": (None, None), "wrong": (60.0, None)}


def the_same(plain):
    stations = tuple(
        Station(at, stub, farads, plain["input_ohms"], Driver(plain["emf"], on_ohms, plain["switch_ns"]))
        for at, stub, farads, on_ohms in zip(*(plain[x] for x in ("at", "stubs", "farads", "on_ohms")), strict=True)
    )
    ends = zip((0.0, plain["length"]), plain["terminators"], strict=True)
    terminators = tuple(Terminator(at, ohms) for at, ohms in ends if ohms)
    return Bus(Cable(plain["ohms"], plain["ns_per_m"]), plain["length"], stations, terminators)


@needs_ngspice
@pytest.mark.parametrize("name", TERMINATORS)
@pytest.mark.parametrize("seed", [1, *(pytest.param(k, marks=pytest.mark.long) for k in (2, 3))])
def test_both_edges_on_a_random_bus(name, seed):
    rng = np.random.default_rng(seed)
    plain = random_bus(rng, 4, TERMINATORS[name])
    sender = int(rng.integers(4))
    drives = np.zeros((1, 4), bool)
    drives[0, sender] = True
    found = swing(lay([the_same(plain)]), drives)
    turn = (len(found.dominant) - 1) * STEP_S
    ramp = plain["switch_ns"] * 1e-9
    follow = min(len(found.recessive) - 1, 3000) * STEP_S
    switches = [[] for _ in range(4)]
    switches[sender] = [(0, 0), (ramp, 1), (turn, 1), (turn + ramp, 0)]
    times, volts = solve(plain, switches, turn + follow)
    ours = np.concatenate([found.dominant[1:, 0], found.recessive[1:, 0]])
    ours = ours[: int((turn + follow) / STEP_S)]
    grid = (1 + np.arange(len(ours))) * STEP_S
    theirs = np.stack([np.interp(grid, times, column) for column in volts.T], axis=1)
    apart = np.abs(ours - theirs)
    assert apart.max() < 5e-3
    assert apart.mean() < 2e-3
