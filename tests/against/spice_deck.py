"""A netlist of one truck in one state, written part by part from plain parameter values, and ngspice run on it.

Shares no code with linkcheck's networks: bias points, J1708 pins, rails and drivers are all there as parts of their
own. `Untidy` adds what linkcheck's circuit leaves out (soft drivers, an adapter of constant power, damp insulation,
chokes), for trials with trucks of another make than the ones a diagnosis was built on.
"""

import math
import re
import shutil
import subprocess
import tempfile
from dataclasses import dataclass, field
from pathlib import Path

NGSPICE = shutil.which("ngspice")
CAVITIES = "ABCDEFGHJ"
SLOTS = range(8)
NEVER = 1e15  # a resistor that is not there until it is altered
OPTIONS = ".options rshunt=1e12 reltol=1e-5 abstol=1e-11 vntol=1e-8"


@dataclass
class Untidy:
    """What a real truck has beside the parameters: figures of one truck."""

    insulation_ohms: list  # of the eight junctions' pairs, the connector's back and the J1708 pair, to chassis
    choke_ohms: list  # in each line of each module
    knee_volts: float  # softness of the drivers' diodes and limits
    meter_ohms: float
    test_volts: float

    @classmethod
    def draw(cls, rng):
        def log(low, high, size=None):
            return math.e ** rng.uniform(math.log(low), math.log(high), size)

        return cls(
            log(3e5, 5e7, 10).tolist(),
            log(0.05, 2.0, 16).tolist(),
            log(0.02, 0.06),
            rng.uniform(9.5e6, 11e6),
            log(0.3, 2.5),
        )


@dataclass
class Plain:
    """One truck's figures: name to float or list of floats, and its shorts as (node, node, ohms)."""

    values: dict
    shorts: list
    untidy: Untidy | None = None

    @classmethod
    def of(cls, trucks, row, untidy=None):
        values = {name: array[..., row].tolist() for name, array in trucks.values.items()}
        shorts = [(a, b, float(ohms[row])) for (a, b), ohms in trucks.bridges.items() if math.isfinite(ohms[row])]
        return cls(values, shorts, untidy)

    def of_module(self, k):
        return lambda name: self.values[f"module_{name}"][k]

    def of_adapter(self, which):
        return lambda name: self.values[f"adapter_{name}"][which]


@dataclass
class Modes:
    """Who has supply: a word for each module, and whether the adapter is on."""

    modules: list = field(default_factory=lambda: ["dead"] * 8)
    adapter: bool = False
    talking: list = field(default_factory=lambda: [False] * 8)


def node(name):
    return "0" if name == "chassis" else name.replace(".", "_").lower()


class Deck:
    """The netlist of one truck in one state."""

    def __init__(self, truck, state, modes, pairs=()):
        self.truck, self.untidy = truck, truck.untidy
        self.v = truck.values
        self.state = state
        self.modes = modes
        self.lines = ["* a truck", OPTIONS]
        self.count = 0
        self.which = {"unplugged": None, "own": 0, "known_good": 1}[state.adapter]
        self.supply()
        self.can()
        self.j1708()
        self.second_can()
        if self.which is not None:
            self.adapter()
        for a, b, ohms in truck.shorts:
            self.r(a, b, ohms)
        if self.untidy:
            self.damp()
        for cavity in CAVITIES:  # so that the node is there even behind an open terminal
            self.r(cavity, "chassis", NEVER)
        for k, (red, black) in enumerate(pairs):  # a meter: its resistance, and beside it its source's current
            self.lines.append(f"rlead{k} {node(red)} {node(black)} {NEVER}")
            self.lines.append(f"ilead{k} {node(black)} {node(red)} dc 0")
            self.r(red, "chassis", NEVER)
            self.r(black, "chassis", NEVER)

    def text(self):
        """The netlist, with first guesses near what lines usually show: drivers' corners are hard to reach from 0 V."""
        guesses = {"high": 3.4, "low": 1.6, "a": 3.4, "b": 1.6, "emf": 12.0, "distribution": 12.0}
        names = sorted({word for line in self.lines if line[0] == "r" for word in line.split()[1:3]})
        known = [(name, guesses.get(name, guesses.get(name.split("_")[-1] if "_" in name else ""))) for name in names]
        hints = [f".nodeset v({name})={volts}" for name, volts in known if volts]
        return "\n".join([*self.lines, *hints, ".end", ""])

    # parts ------------------------------------------------------------------------------------------------

    def r(self, a, b, ohms, name=""):
        if math.isfinite(ohms) and node(a) != node(b):
            self.count += 1
            self.lines.append(f"{name or f'r{self.count}'} {node(a)} {node(b)} {ohms:.12g}")

    def e(self, a, b, volts, name=""):
        self.count += 1
        self.lines.append(f"{name or f'v{self.count}'} {node(a)} {node(b)} dc {volts:.12g}")

    def driver(self, name, high, low, ground, of):
        """Both sides of a CAN driver between an interface's lines and its ground, off until v<name> is altered to 1."""
        self.e(f"en_{name}", "chassis", 0.0, f"ven_{name}")
        enabled, shift = f"v(en_{name})", of("ground_volts")
        to_ground = f"-v({node(ground)})" if node(ground) != "0" else ""
        up = f"({of('rail_volts') + shift - of('high_drop_volts'):.12g}-(v({node(high)}){to_ground}))"
        down = f"((v({node(low)}){to_ground})-({shift + of('low_drop_volts'):.12g}))"
        for side, ends, drop in (("high", (ground, high), up), ("low", (low, ground), down)):
            ohms, limit = of(f"{side}_on_ohms"), of(f"{side}_limit_amps")
            amps = f"min(max({drop}/{ohms:.12g},0),{limit:.12g})"
            if self.untidy:  # a knee instead of corners
                knee = self.untidy.knee_volts
                amps = f"{limit:.12g}*tanh({knee:.6g}*ln(1+exp(min({drop}/{knee:.6g},300)))/{ohms * limit:.12g})"
            self.lines.append(f"b{side}_{name} {node(ends[0])} {node(ends[1])} i={enabled}*{amps}")

    def interface(self, name, high, low, ground, mode, of):
        """Input resistances to a bias node, the bias source behind its resistance."""
        factor = 1.0 if mode != "dead" else of("unpowered_factor")
        skew = of("input_mismatch") / 2.0
        self.r(high, f"bias_{name}", of("input_ohms") * factor * (1.0 + skew))
        self.r(low, f"bias_{name}", of("input_ohms") * factor * (1.0 - skew))
        if mode == "dead":
            self.r(f"bias_{name}", ground, of("unpowered_bias_ohms"))
        else:
            self.r(f"bias_{name}", f"source_{name}", of("bias_ohms"))
            self.e(f"source_{name}", ground, (of("bias_volts") if mode == "awake" else 0.0) + of("ground_volts"))
        self.driver(name, high, low, ground, of)
        self.lines.append(f"itest_{name} {node(low)} {node(high)} dc 0")

    def j1708_node(self, name, plus, minus, ground, powered, of):
        if not of("j1708_fitted"):
            return
        local, rail = f"local_{name}", f"rail_{name}"
        self.e(local, ground, of("ground_volts") if powered else 0.0)
        if powered:
            self.e(rail, local, of("rail_volts"))
        else:
            self.r(rail, local, of("j1708_rail_ohms"))
        for line, pin in ((plus, f"plus_{name}"), (minus, f"minus_{name}")):
            self.r(line, pin, of("j1708_series_ohms"))
            self.r(pin, local, of("j1708_input_ohms"))
        self.r(f"plus_{name}", rail, of("j1708_pull_up_ohms"))
        self.r(f"minus_{name}", local, of("j1708_pull_down_ohms"))
        self.r(f"plus_{name}", local, NEVER, f"rdown_{name}")
        self.r(f"minus_{name}", rail, NEVER, f"rup_{name}")

    # the truck --------------------------------------------------------------------------------------------

    def supply(self):
        v, state = self.v, self.state
        self.e("emf", "battery_negative", v["battery_emf_volts"])
        self.r("emf", "battery_positive", v["battery_internal_ohms"])
        self.r("battery_negative", "chassis", v["negative_cable_ohms"] if state.battery == "connected" else NEVER)
        self.r("battery_positive", "distribution", v["positive_cable_ohms"])
        self.r("distribution", "chassis", v["loads_key_off_ohms"])
        if state.key == "on" and not v["key_supply_dead"]:
            self.r("distribution", "chassis", v["loads_key_on_ohms"])
        drop, ohms = v["electronics_drop_volts"], v["electronics_ohms"]
        self.lines.append(f"belectronics distribution 0 i=max((v(distribution)-{drop:.12g})/{ohms:.12g},0)")
        self.r("distribution", "fuse_in", v["supply_wire_ohms"])
        if state.fuse == "in":
            self.r("fuse_in", "fuse_out", v["fuse_ohms"] + v["fuse_contact_ohms"])
        self.r("fuse_out", "feed_splice", v["feed_wire_ohms"])
        self.r("feed_splice", "chassis", v["feed_tap_ohms"])
        self.r("feed_splice", "B.wire", v["feed_splice_ohms"])
        self.r("chassis", "ground_splice", v["ground_stud_ohms"])
        self.r("ground_splice", "A.wire", v["ground_wire_ohms"])
        if v["shield_fitted"]:
            if "drain" not in state.unplugged:
                self.r("shield", "chassis", v["shield_ground_ohms"])
            self.r("shield", "E.wire", v["shield_wire_ohms"])
        for cavity, ohms in zip(CAVITIES, v["contact_ohms"], strict=True):
            self.r(f"{cavity}.wire", cavity, ohms)

    def can(self):
        v, unplugged = self.v, self.state.unplugged
        for line in ("high", "low"):
            chain = [f"terminator_1.{line}", *(f"backbone_{k}.{line}" for k in range(1, 9)), f"terminator_2.{line}"]
            for k, ohms in enumerate(v[f"backbone_{line}_ohms"]):
                self.r(chain[k], chain[k + 1], ohms)
            self.r(f"backbone_{v['stub_at'] + 1}.{line}", f"stub.{line}", v[f"stub_splice_{line}_ohms"])
        for k in (0, 1):
            name = f"terminator_{k + 1}"
            self.r(f"{name}.a", f"{name}.b", v["terminator_ohms"][k])
            if name not in unplugged:
                self.r(f"{name}.high", f"{name}.a", v["terminator_high_contact_ohms"][k])
                self.r(f"{name}.low", f"{name}.b", v["terminator_low_contact_ohms"][k])
        cavities = "DC" if v["swapped_cd"] else "CD"
        self.r("stub.high", f"{cavities[0]}.wire", v["stub_high_ohms"])
        self.r("stub.low", f"{cavities[1]}.wire", v["stub_low_ohms"])
        for k, ohms in enumerate(v["extra_terminator_ohms"]):
            pair = ("C.wire", "D.wire") if k == 0 else (f"backbone_{k}.high", f"backbone_{k}.low")
            self.r(*pair, ohms)
        for k in SLOTS:
            of, name = self.truck.of_module(k), f"module_{k + 1}"
            lines = (f"{name}.high", f"{name}.low")
            if of("present") and name not in unplugged:
                harness = lines[::-1] if of("swapped") else lines
                chokes = self.untidy.choke_ohms[2 * k : 2 * k + 2] if self.untidy else (0.0, 0.0)
                self.r(f"backbone_{k + 1}.high", harness[0], of("stub_high_ohms") + of("joint_ohms") + chokes[0])
                self.r(f"backbone_{k + 1}.low", harness[1], of("stub_low_ohms") + of("joint_ohms") + chokes[1])
            self.interface(f"m{k}", *lines, "chassis", self.modes.modules[k], of)
            self.r(lines[0], "chassis", of("leak_high_ohms"))
            self.r(lines[1], "chassis", of("leak_low_ohms"))
            self.r(*lines, of("leak_across_ohms"))

    def j1708(self):
        v = self.v
        for k in SLOTS:
            if v["module_present"][k] and f"module_{k + 1}" not in self.state.unplugged:
                mode = self.modes.modules[k]
                powered = mode == "awake" or (mode == "asleep" and v["module_j1708_asleep"][k])
                self.j1708_node(f"m{k}", "j1708.plus", "j1708.minus", "chassis", powered, self.truck.of_module(k))
        cavities = "GF" if v["swapped_fg"] else "FG"
        self.r("j1708.plus", f"{cavities[0]}.wire", v["j1708_plus_wire_ohms"])
        self.r("j1708.minus", f"{cavities[1]}.wire", v["j1708_minus_wire_ohms"])

    def second_can(self):
        v = self.v
        if v["can2_fitted"]:
            self.r("can2.high", "can2.low", v["can2_terminator_ohms"])
            of = lambda name: v[f"can2_{name}"]  # noqa: E731
            self.interface("second", "can2.high", "can2.low", "chassis", self.modes.modules[0], of)
            self.r("can2.high", "H.wire", v["can2_high_wire_ohms"])
            self.r("can2.low", "J.wire", v["can2_low_wire_ohms"])

    def adapter_load(self, ohms):
        """A resistor; or, untidy, constant power above five volts and a resistor below."""
        if not self.untidy:
            self.r("B", "A", ohms)
            return
        nominal = 12.0 if self.v["battery_emf_volts"] < 16.0 else 24.0
        volts, power = "(v(b)-v(a))", nominal**2 / ohms
        self.lines.append(f"bload b a i={power:.12g}*{volts}/max({volts}*{volts},25)")

    def damp(self):
        """Leaks of the insulation, all along the links."""
        leaks = self.untidy.insulation_ohms
        for k in SLOTS:
            self.r(f"backbone_{k + 1}.{'high' if k % 2 else 'low'}", "chassis", leaks[k])
        self.r("C.wire", "chassis", leaks[8])
        self.r("F.wire", "chassis", leaks[9])

    def adapter(self):
        of = self.truck.of_adapter(self.which)
        if not of("dead"):
            self.adapter_load(of("load_ohms"))
        if not of("deaf"):
            self.interface("adapter", "C", "D", "A", "awake" if self.modes.adapter else "dead", of)
            self.r("C", "D", of("terminator_ohms"))
            self.j1708_node("adapter", "F", "G", "A", self.modes.adapter, of)


def run(decks):
    """Solve operating points, all in one process.

    Corners in drivers are hard on Newton steps: once in some ten thousand points it gives up, and then the whole deck
    is run again without first guesses.

    Args:
        decks: (deck text, [(commands before the operating point, nodes to print)]) each.

    Returns:
        for each deck, for each operating point, the list of volts.

    """
    found = _operating_points(dict(enumerate(decks)))
    missing = {d for d, (_, points) in enumerate(decks) for p in range(len(points)) if (d, p) not in found}
    if missing:
        found |= _operating_points({d: (re.sub(r"\.nodeset.*\n", "", decks[d][0]), decks[d][1]) for d in missing})
    return [[found[d, p] for p in range(len(points))] for d, (_, points) in enumerate(decks)]


def _operating_points(decks):
    """(deck, point) to the list of volts; points that did not converge are left out."""
    with tempfile.TemporaryDirectory() as folder:
        script = ["* all decks", "v1 1 0 1", "r1 1 0 1", ".control", "set numdgt=12", "set noaskquit"]
        for d, (text, points) in decks.items():
            Path(folder, f"{d}.cir").write_text(text)
            script.append(f"source {d}.cir")
            for p, (commands, nodes) in enumerate(points):
                wanted = " ".join(sorted({f"v({node(name)})" for name in nodes} - {"v(0)"}))
                script += [*commands, "op", f"echo @ {d} {p}", f"print {wanted}", "destroy all"]
            script.append("remcirc")
        Path(folder, "all.cir").write_text("\n".join([*script, "quit", ".endc", ".end", ""]))
        done = subprocess.run([NGSPICE, "-b", "all.cir"], cwd=folder, capture_output=True, text=True, check=False)
    found = {}
    for block in done.stdout.split("@ ")[1:]:
        d, p = map(int, block.split("\n", 1)[0].split())
        volts = {"0": 0.0} | {name: float(text) for name, text in re.findall(r"v\((\w+)\) = (\S+)", block)}
        nodes = [node(name) for name in decks[d][1][p][1]]
        if all(name in volts for name in nodes):
            found[d, p] = [volts[name] for name in nodes]
    return found
