"""A bus of transmission lines (ngspice T elements) written from plain numbers, and what its stations see.

Shares no code with linkcheck: a bus here is a dictionary of metres, ohms, farads and volts, see `random_bus`.
"""

import shutil
import subprocess
import tempfile
from itertools import pairwise
from pathlib import Path

import numpy as np

NGSPICE = shutil.which("ngspice")
EXACT = ".options reltol=1e-4 abstol=1e-9 vntol=1e-6 trtol=1 method=trap"
LONG = ".options reltol=1e-3 abstol=1e-8 vntol=1e-5 trtol=7 method=gear"
SECTION_M = 0.5
OHMS_PER_M = 0.08  # both conductors, AWG 20, with some skin effect: a ladder may lose a little


def random_bus(rng, stations, terminators):
    """Figures of one bus; every place is a multiple of 0.1 m."""
    length = round(float(rng.uniform(3, 40)), 1)
    inner = np.sort(rng.choice(np.arange(2, round(length * 10) - 1, 2), stations, replace=False)) / 10
    return {
        "ohms": float(rng.uniform(95, 140)),
        "ns_per_m": 5.0,
        "length": length,
        "at": [round(float(x), 1) for x in inner],
        "stubs": [round(float(x), 1) for x in rng.uniform(0.2, 3.0, stations)],
        "farads": [float(x) for x in rng.uniform(20e-12, 200e-12, stations)],
        "input_ohms": float(rng.uniform(19e3, 52e3)),
        "emf": float(rng.uniform(3.4, 3.8)),
        "on_ohms": [float(x) for x in rng.uniform(32, 60, stations)],
        "switch_ns": float(rng.uniform(20, 100)),
        "terminators": terminators,  # (at start, at end), None for an empty socket
    }


def _line(name, a, b, bus, metres):
    """A T element."""
    return [f"t{name} {a} 0 {b} 0 z0={bus['ohms']} td={metres * bus['ns_per_m'] * 1e-9:.6g}"]


def _ladder(name, a, b, bus, metres):
    """The same as short sections of inductance and capacitance: T elements stop ngspice in long runs."""
    count = max(1, round(metres / SECTION_M))
    part = metres / count
    henries = bus["ohms"] * bus["ns_per_m"] * 1e-9 * part
    farads = bus["ns_per_m"] * 1e-9 / bus["ohms"] * part
    nodes = [a, *(f"{name}n{k}" for k in range(1, count)), b]
    lines = [f"c{name}s {a} 0 {farads / 2:.6g}", f"c{name}e {b} 0 {farads / 2:.6g}"]
    lines += [f"c{name}n{k} {node} 0 {farads:.6g}" for k, node in enumerate(nodes[1:-1])]
    for k, (x, y) in enumerate(pairwise(nodes)):
        lines += [f"l{name}{k} {x} {name}m{k} {henries:.6g}", f"r{name}{k} {name}m{k} {y} {OHMS_PER_M * part:.6g}"]
    return lines


def netlist(bus, switches, end_s, step_s, *, long=False):
    """`switches`: for each station the piecewise linear share of its driver that is on, [(seconds, share), ...]."""
    lines = ["* a bus", LONG if long else EXACT]
    cable = _ladder if long else _line
    names = ["start", *(f"j{k}" for k in range(len(bus["at"]))), "end"]
    marks = [0.0, *bus["at"], bus["length"]]
    for k, (a, b) in enumerate(pairwise(names)):
        lines += cable(f"b{k}", a, b, bus, marks[k + 1] - marks[k])
    for k, stub in enumerate(bus["stubs"]):
        lines += [
            *cable(f"s{k}", f"j{k}", f"s{k}", bus, stub),
            f"ci{k} s{k} 0 {bus['farads'][k]:.6g}",
            f"ri{k} s{k} 0 {bus['input_ohms']:.6g}",
        ]
        points = " ".join(f"{t:.9g} {x:.6g}" for t, x in switches[k])
        lines += [
            f"vg{k} g{k} 0 pwl({points})" if points else f"vg{k} g{k} 0 dc 0",
            f"bd{k} 0 s{k} i=v(g{k})*max({bus['emf']:.6g}-v(s{k}),0)/{bus['on_ohms'][k]:.6g}",
        ]
    for where, ohms in zip(("start", "end"), bus["terminators"], strict=True):
        lines.append(f"rt{where} {where} 0 {1e12 if ohms is None else ohms}")
    lines.append(f".tran {step_s:.6g} {end_s:.6g} 0 {step_s:.6g}")
    return lines


def solve(bus, switches, end_s, step_s=0.5e-9, *, long=False):
    """Seconds [T] and volts at the stations [T, N]."""
    wanted = " ".join(f"v(s{k})" for k in range(len(bus["stubs"])))
    with tempfile.TemporaryDirectory() as folder:
        out = Path(folder, "out.txt")
        control = [".control", "set noaskquit", "set wr_singlescale", "run", f"wrdata {out} {wanted}", ".endc", ".end"]
        deck = Path(folder, "bus.cir")
        deck.write_text("\n".join([*netlist(bus, switches, end_s, step_s, long=long), *control, ""]))
        done = subprocess.run([NGSPICE, "-b", str(deck)], capture_output=True, text=True, timeout=300, check=False)
        assert out.exists(), done.stdout + done.stderr
        table = np.loadtxt(out)
    assert table[-1, 0] > 0.999 * end_s, done.stderr
    return table[:, 0], table[:, 1:]
