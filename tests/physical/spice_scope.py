"""Traces as a scope would record them, made by ngspice from frames laid out bit by bit; tables in several layouts.

Every station's driver follows the bits it sends; all others answer in the ACK slot, each after its own delay. The trace
is taken at one station: both lines around their common mode, with noise, in the steps of an 8-bit converter.
"""

import numpy as np
from physical.spice_line import solve
from wire_reference import frame_bits

GAP_BITS = 5
START_BITS = 8
TAIL_BITS = 3  # intermission, the last bits of `frame_bits`


def truck(terminators, *, length=20.0, stations=4, switch_ns=50.0, on_ohms=(48.0, 44.0, 52.0, 47.0)):
    """An invented bus; each driver a little different."""
    return {
        "ohms": 120.0,
        "ns_per_m": 5.0,
        "length": length,
        "at": [round(length * x, 1) for x in (0.05, 0.35, 0.6, 0.95)][:stations],
        "stubs": [1.0, 0.6, 1.5, 0.8][:stations],
        "farads": [60e-12, 100e-12, 80e-12, 120e-12][:stations],
        "input_ohms": 30e3,
        "emf": 3.6,
        "on_ohms": on_ohms[:stations],
        "switch_ns": switch_ns,
        "terminators": terminators,
    }


def schedule(frames, stations, bit_s, switch_ns, loop_s=150e-9):
    """Drivers' shares over time and the trace's length. `frames`: [(station, identifier, data, extended), ...]."""
    shares = [[(0.0, 0.0)] for _ in range(stations)]
    now = START_BITS * bit_s
    for sender, identifier, data, extended in frames:
        bits = frame_bits(identifier, bytes(data), extended=extended)
        slot = len(bits) - TAIL_BITS - 9
        own = list(bits)
        own[slot] = 1
        _drive(shares[sender], own, now, bit_s, switch_ns)
        for other in range(stations):
            if other != sender:
                answer = [1] * len(bits)
                answer[slot] = 0
                _drive(shares[other], answer, now + loop_s + 20e-9 * other, bit_s, switch_ns)
        now += (len(bits) + GAP_BITS) * bit_s
    return shares, now


def _drive(points, bits, start, bit_s, switch_ns):
    level = 0.0
    for k, bit in enumerate(bits):
        wanted = 1.0 - bit
        if wanted != level:
            points += [(start + k * bit_s, level), (start + k * bit_s + switch_ns * 1e-9, wanted)]
            level = wanted


def record(bus, frames, bit_rate, *, at=0, sample_s=40e-9, noise_volts=0.015, step_volts=0.03, seed=1, common=2.5):
    """Seconds, CAN high and CAN low at one station."""
    switches, end = schedule(frames, len(bus["at"]), 1.0 / bit_rate, bus["switch_ns"])
    seconds, volts = solve(bus, switches, end, 40e-9, long=True)
    rng = np.random.default_rng(seed)
    grid = np.arange(0.0, end, sample_s)
    difference = np.interp(grid, seconds, volts[:, at])
    lines = [common + half * difference + rng.normal(0, noise_volts, len(grid)) for half in (0.5, -0.5)]
    high, low = (np.round(line / step_volts) * step_volts for line in lines)
    return grid, high, low
