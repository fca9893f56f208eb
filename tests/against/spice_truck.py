"""One truck as ngspice sees it: a netlist written from plain parameter values, and a meter put on it.

This shares no code with linkcheck's solver, drivers or hearing: it takes figures by name and a state by its plain
attributes, writes every part out (bias nodes, J1708 pins, rails, drivers as behavioural sources), lets ngspice find
the operating points, and works out in plain loops which modules hear each other. Its only use is in tests and in
trials of the diagnosis: trucks from here stand for real ones.

How a reading comes about:
1. everything without supply: the volts that decide who has supply;
2. with supply: the levels at every station, at rest, with each station driving, and with a test current across each
   station (for the time constants): who hears whom, and for which share of time each drives;
3. a 10 Mohm resistor (or an ohmmeter's source) between the two points, once per phase; the mean by share.

All decks of a stage go through one ngspice process.
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
METER_OHMS = 10e6
TEST_VOLTS = 1.2
# Corners in drivers are hard on Newton steps; where it gives up once in some ten thousand points, it starts elsewhere.
OPTIONS = ".options rshunt=1e12 reltol=1e-5 abstol=1e-11 vntol=1e-8"
OHMS_RANGES = (600.0, 6e3, 60e3, 600e3, 6e6, 40e6)


@dataclass(frozen=True)
class Ask:
    """A reading to take. `state` has key, battery, adapter, fuse and unplugged, as words."""

    state: object
    red: str
    black: str
    quantity: str = "dc_volts"  # or "ohms", or "listen" (red and black then count for nothing)
    bit_rate: float | None = None


@dataclass
class Plain:
    """One truck's figures: name to float or list of floats, and its shorts as (node, node, ohms)."""

    values: dict
    shorts: list

    @classmethod
    def of(cls, trucks, row):
        values = {name: array[..., row].tolist() for name, array in trucks.values.items()}
        shorts = [(a, b, float(ohms[row])) for (a, b), ohms in trucks.bridges.items() if math.isfinite(ohms[row])]
        return cls(values, shorts)


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
        for cavity in CAVITIES:  # so that the node is there even behind an open terminal
            self.r(cavity, "chassis", NEVER)
        for k, (red, black) in enumerate(pairs):
            self.r(red, f"lead{k}", NEVER, f"rlead{k}")
            self.lines.append(f"vlead{k} lead{k} {node(black)} dc 0")
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
        for side, sign, drop in (("high", (ground, high), up), ("low", (low, ground), down)):
            amps = f"min(max({drop}/{of(f'{side}_on_ohms'):.12g},0),{of(f'{side}_limit_amps'):.12g})"
            self.lines.append(f"b{side}_{name} {node(sign[0])} {node(sign[1])} i={enabled}*{amps}")

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

    def of_module(self, k):
        return lambda name: self.v[f"module_{name}"][k]

    def of_adapter(self, name):
        return self.v[f"adapter_{name}"][self.which]

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
            of, name = self.of_module(k), f"module_{k + 1}"
            lines = (f"{name}.high", f"{name}.low")
            if of("present") and name not in unplugged:
                harness = lines[::-1] if of("swapped") else lines
                self.r(f"backbone_{k + 1}.high", harness[0], of("stub_high_ohms") + of("joint_ohms"))
                self.r(f"backbone_{k + 1}.low", harness[1], of("stub_low_ohms") + of("joint_ohms"))
            self.interface(f"m{k}", *lines, "chassis", self.modes.modules[k], of)
            self.r(lines[0], "chassis", of("leak_high_ohms"))
            self.r(lines[1], "chassis", of("leak_low_ohms"))
            self.r(*lines, of("leak_across_ohms"))

    def j1708(self):
        v = self.v
        for k in SLOTS:
            if v["module_present"][k] and f"module_{k + 1}" not in self.state.unplugged:
                powered = self.modes.modules[k] != "dead"
                self.j1708_node(f"m{k}", "j1708.plus", "j1708.minus", "chassis", powered, self.of_module(k))
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

    def adapter(self):
        of = self.of_adapter
        if not of("dead"):
            self.r("B", "A", of("load_ohms"))
        if not of("deaf"):
            self.interface("adapter", "C", "D", "A", "awake" if self.modes.adapter else "dead", of)
            self.r("C", "D", of("terminator_ohms"))
            self.j1708_node("adapter", "F", "G", "A", self.modes.adapter, of)


# running ngspice ------------------------------------------------------------------------------------------------


def run(decks):
    """Solve operating points.

    Args:
        decks: (deck text, [(commands before the operating point, nodes to print)]) each.

    Returns:
        for each deck, for each operating point, the list of volts.

    """
    found = _operating_points(decks)
    wanted = {(d, p) for d, (_, points) in enumerate(decks) for p in range(len(points))}
    again = sorted({d for d, _ in wanted - found.keys()})
    if again:
        unhinted = [
            ("\n".join(x for x in decks[d][0].splitlines() if not x.startswith(".nodeset")), decks[d][1]) for d in again
        ]
        found |= {
            (again[d], p): volts
            for (d, p), volts in _operating_points([(f"{t}\n", points) for t, points in unhinted]).items()
        }
    assert wanted <= found.keys(), "ngspice found no operating point"
    return [
        [
            [0.0 if node(name) == "0" else found[d, p][node(name)] for name in nodes]
            for p, (_, nodes) in enumerate(points)
        ]
        for d, (_, points) in enumerate(decks)
    ]


def _operating_points(decks):
    """(deck, point) to the volts by node; points that did not converge are left out."""
    with tempfile.TemporaryDirectory() as folder:
        script = ["* all decks", "v1 1 0 1", "r1 1 0 1", ".control", "set numdgt=12", "set noaskquit"]
        for d, (text, points) in enumerate(decks):
            Path(folder, f"{d}.cir").write_text(text)
            script.append(f"source {d}.cir")
            for p, (commands, nodes) in enumerate(points):
                wanted = " ".join(f"v({name})" for name in sorted({node(name) for name in nodes} - {"0"}))
                script += [*commands, "op", f"echo @ {d} {p}", f"print {wanted}", "destroy all"]
            script.append("remcirc")
        Path(folder, "all.cir").write_text("\n".join([*script, "quit", ".endc", ".end", ""]))
        done = subprocess.run([NGSPICE, "-b", "all.cir"], cwd=folder, capture_output=True, text=True, check=False)
    found, here = {}, None
    for line in done.stdout.splitlines():
        if line.startswith("@ "):
            here = tuple(map(int, line.split()[1:]))
        elif (match := re.match(r"v\((\w+)\) = (\S+)", line)) and here is not None:
            found.setdefault(here, {})[match[1]] = float(match[2])
    return found


# who has supply -------------------------------------------------------------------------------------------------


def supply_modes(truck, state, distribution, at_adapter):
    v, modes = truck.values, Modes()
    key = state.key == "on" and not v["key_supply_dead"]
    for k in SLOTS:
        there = v["module_present"][k] and f"module_{k + 1}" not in state.unplugged and not v["module_unpowered"][k]
        enough = state.battery == "connected" and distribution >= v["module_minimum_volts"][k]
        if not (there and enough and (key or v["module_keep_alive"][k])):
            continue
        if key and not v["module_standby"][k]:
            modes.modules[k], modes.talking[k] = "awake", True
        elif not key and v["module_biased_asleep"][k]:
            modes.modules[k] = "awake"
        else:
            modes.modules[k] = "asleep"
    if state.adapter != "unplugged":
        which = 0 if state.adapter == "own" else 1
        modes.adapter = at_adapter >= v["adapter_minimum_volts"][which] and not v["adapter_dead"][which]
    return modes


# who hears whom -------------------------------------------------------------------------------------------------


@dataclass
class Station:
    name: str
    high: str
    low: str
    ground: str
    active: bool
    stuck: bool
    wrong_rate: bool
    talk: float
    farads: float
    of: object


def stations(truck, state, modes):
    v, found = truck.values, []
    for k in SLOTS:
        name = f"module_{k + 1}"
        of = lambda what, k=k: v[f"module_{what}"][k]  # noqa: E731
        joined = of("present") and name not in state.unplugged
        found.append(
            Station(
                f"m{k}", f"{name}.high", f"{name}.low", "chassis", modes.talking[k], bool(of("stuck")),
                bool(of("wrong_rate")), of("talk") if modes.talking[k] else 0.0,
                of("pin_farads") + v["junction_farads"][k] if joined else 0.0, of,
            )
        )  # fmt: skip
    if state.adapter != "unplugged":
        which = 0 if state.adapter == "own" else 1
        of = lambda what: v[f"adapter_{what}"][which]  # noqa: E731
        if not of("deaf"):
            found.append(Station("adapter", "C", "D", "A", modes.adapter, False, False, 0.0, of("pin_farads"), of))
    return found


def level_points(all_stations):
    """Operating points of stage 2: at rest, with each station driving (whoever is stuck drives in all of these), then
    with nobody driving, alone and with a test current across each station in turn.
    """
    pins = [name for s in all_stations for name in (s.high, s.low, s.ground)]
    stuck = [s.name for s in all_stations if s.stuck and s.active]
    points, undo = [([f"alter ven_{name} = 1" for name in stuck], pins)], []
    for s in all_stations:
        points.append(([*undo, f"alter ven_{s.name} = 1"], pins))
        undo = [] if s.name in stuck else [f"alter ven_{s.name} = 0"]
    points.append(([*undo, *(f"alter ven_{name} = 0" for name in stuck)], pins))
    undo = []
    for s in all_stations:
        points.append(([*undo, f"alter itest_{s.name} = 1m"], pins))
        undo = [f"alter itest_{s.name} = 0"]
    return points


@dataclass
class Verdict:
    shares: dict
    shows: str
    heard: list


def judge(truck, state, all_stations, levels, modes, bit_rate=None):
    """Plain loops over stations: what `linkcheck.circuit.hearing` says in its docstring."""
    v, n = truck.values, len(all_stations)

    def pairs(row):
        return [(row[3 * k] - row[3 * k + 2], row[3 * k + 1] - row[3 * k + 2]) for k in range(n)]

    rest = [(h - lo, (h + lo) / 2) for h, lo in pairs(levels[0])]
    driven = [[(h - lo, (h + lo) / 2) for h, lo in pairs(levels[1 + s])] for s in range(n)]
    quiet = [h - lo for h, lo in pairs(levels[1 + n])]
    across = [[(h - lo - quiet[r]) / 1e-3 for r, (h, lo) in enumerate(pairs(levels[2 + n + s]))] for s in range(n)]
    hears = [[False] * n for _ in range(n)]
    moves = [[False] * n for _ in range(n)]
    held = [False] * n
    for r, at in enumerate(all_stations):
        back = at.of("threshold_volts") - at.of("hysteresis_volts")
        upper = at.of("common_mode_volts")
        lower = -2.0 if upper == 7.0 else -upper
        held[r] = at.active and rest[r][0] >= back
        decay = sum(across[k][r] * each.farads for k, each in enumerate(all_stations))
        for s, by in enumerate(all_stations):
            if not (at.active and by.active):
                continue
            swing, mean = driven[s][r]
            fall = decay * math.log(max(swing, back) / back)
            hears[s][r] = (
                swing >= at.of("threshold_volts")
                and not held[r]
                and fall <= v["sample_point"] / v["bit_rate"] - 2 * at.of("loop_delay_s")
                and lower <= mean <= upper
                and lower <= rest[r][1] <= upper
                and at.wrong_rate == by.wrong_rate
            )
            moves[s][r] = not hears[s][r] and swing - rest[r][0] >= 0.4
    good, broken, alone, shares = [False] * n, [False] * n, [False] * n, {}
    sends = [x.active and x.talk > 0 and not x.stuck and not held[k] for k, x in enumerate(all_stations)]
    total = sum(x.talk for x in all_stations)
    for s, by in enumerate(all_stations):
        if by.stuck and by.active:
            shares[by.name] = 1.0
        if not sends[s]:
            continue
        against = [q for q in range(n) if sends[q] and driven[q][s][0] - rest[s][0] <= -0.4]
        reversed_by = len(against) > (sum(sends) - 1) / 2
        interrupted = any(moves[s][r] and (hears[r][s] or moves[r][s]) for r in range(min(n, 8)))
        overrun = any(
            sends[t] and not hears[s][t] and any(hears[s][r] and hears[t][r] for r in range(n)) for t in range(n)
        )
        broken[s] = not hears[s][s] or reversed_by or interrupted or overrun
        acknowledged = any(r != s and hears[s][r] and hears[r][s] for r in range(n))
        good[s], alone[s] = not broken[s] and acknowledged, not broken[s] and not acknowledged
        if alone[s]:
            shares[by.name] = v["unacknowledged_share"]
        else:
            shares[by.name] = by.talk / total * v["busy_share" if good[s] else "erroring_share"]
    shows, heard = "", []
    if state.adapter != "unplugged":
        which = 0 if state.adapter == "own" else 1
        same_rate = bit_rate in (None, v["bit_rate"])
        a = 8 if n == 9 else None
        noise = False
        if a is not None:
            two_way = any(hears[a][s] for s in SLOTS) or v["adapter_copes_one_way"][which]
            heard = [s + 1 for s in SLOTS if hears[s][a] and good[s] and same_rate and two_way]
            noise = held[a] or any(
                (moves[s][a] and shares.get(all_stations[s].name, 0) > 0)
                or (hears[s][a] and (broken[s] or not same_rate or not two_way))
                for s in SLOTS
            )
        shows = "frames" if heard else "errors" if noise and v["adapter_reports_errors"][which] else "silent"
        shows = shows if modes.adapter else "no_power"
    return Verdict(shares, shows, heard)


# readings -------------------------------------------------------------------------------------------------------


def _j1708_talker(truck, state, modes):
    v = truck.values
    able = [
        k for k in SLOTS
        if modes.talking[k] and v["module_j1708_fitted"][k] and f"module_{k + 1}" not in state.unplugged
    ]  # fmt: skip
    return able[0] if able else None


def _phases(truck, state, modes, verdict):
    """(share, commands to start it, commands to end it) of everything that drives lines."""
    v = truck.values
    found = [
        (share, [f"alter ven_{name} = 1"], [f"alter ven_{name} = 0"]) for name, share in verdict.shares.items() if share
    ]
    if v["can2_fitted"] and modes.talking[0]:
        found.append((v["can2_share"], ["alter ven_second = 1"], ["alter ven_second = 0"]))
    k = _j1708_talker(truck, state, modes)
    if k is not None:
        ohms = v["module_j1708_driver_ohms"][k]
        found.append(
            (
                v["j1708_share"],
                [f"alter rdown_m{k} = {ohms:.12g}", f"alter rup_m{k} = {ohms:.12g}"],
                [f"alter rdown_m{k} = {NEVER}", f"alter rup_m{k} = {NEVER}"],
            )
        )
    return found


def _meter_points(asks, phases):
    """All readings of a truck in a state, one after another: [(commands, nodes)], and how many belong to each."""
    points, counts, undo = [], [], []
    for k, ask in enumerate(asks):
        off = [f"alter vlead{k} = 0", f"alter rlead{k} = {NEVER}"]
        if ask.quantity == "ohms":  # the ohmmeter's source on each of its ranges
            turns = [([f"alter vlead{k} = {TEST_VOLTS}", f"alter rlead{k} = {scale}"], off) for scale in OHMS_RANGES]
        else:  # the voltmeter's resistor, at rest and in each phase
            on = [f"alter rlead{k} = {METER_OHMS}"]
            turns = [(on, off)] + [([*on, *start], [*off, *end]) for _, start, end in phases]
        for start, end in turns:
            points.append(([*undo, *start], [ask.red, ask.black]))
            undo = end
        counts.append(len(turns))
    return points, counts


def _mean_volts(rows, phases):
    rest = rows[0][0] - rows[0][1]
    return rest + sum(
        share * (red - black - rest) for (share, _, _), (red, black) in zip(phases, rows[1:], strict=True)
    )


def _shown_ohms(rows):
    """As a meter steps up its ranges until the reading fits one."""
    for full_scale, (red, black) in zip(OHMS_RANGES, rows, strict=True):
        volts = red - black
        amps = (TEST_VOLTS - volts) / full_scale
        if amps > 0 and 0 <= volts / amps <= full_scale:
            return volts / amps
    return math.inf


def _grouped(jobs):
    """Jobs of the same truck in the same state share decks: [(truck, state, indices of jobs)]."""
    groups = {}
    for index, (truck, ask) in enumerate(jobs):
        groups.setdefault((id(truck), ask.state), (truck, ask.state, []))[2].append(index)
    return list(groups.values())


def read(jobs):
    """Readings of trucks.

    Args:
        jobs: (Plain, Ask) each.

    Returns:
        for each job: volts, ohms (infinite for OL), or for "listen" a pair (what the adapter shows, modules heard).

    """
    groups = _grouped(jobs)
    dead = run([(Deck(t, s, Modes()).text(), [([], ["distribution", "B", "A"])]) for t, s, _ in groups])
    modes = [supply_modes(t, s, row[0][0], row[0][1] - row[0][2]) for (t, s, _), row in zip(groups, dead, strict=True)]
    teams = [stations(t, s, m) for (t, s, _), m in zip(groups, modes, strict=True)]
    levels = run(
        [
            (Deck(t, s, m).text(), level_points(team) if any(x.active for x in team) else [])
            for (t, s, _), m, team in zip(groups, modes, teams, strict=True)
        ]
    )
    verdicts, metered, decks = [], [], []
    for (truck, state, indices), mode, team, level in zip(groups, modes, teams, levels, strict=True):
        rates = {jobs[i][1].bit_rate for i in indices} | {None}
        empty = Verdict({}, "no_power" if not mode.adapter else "silent", [])
        verdicts.append({rate: judge(truck, state, team, level, mode, rate) if level else empty for rate in rates})
        asks = [jobs[i][1] for i in indices if jobs[i][1].quantity != "listen"]
        phases = _phases(truck, state, mode, verdicts[-1][None])
        points, counts = _meter_points(asks, phases)
        metered.append((phases, counts))
        decks.append((Deck(truck, state, mode, [(a.red, a.black) for a in asks]).text(), points))
    answers = [None] * len(jobs)
    for (_, _, indices), (phases, counts), verdict, rows in zip(groups, metered, verdicts, run(decks), strict=True):
        remaining, sizes = iter(rows), iter(counts)
        for i in indices:
            ask = jobs[i][1]
            if ask.quantity == "listen":
                answers[i] = (verdict[ask.bit_rate].shows, verdict[ask.bit_rate].heard)
                continue
            own = [next(remaining) for _ in range(next(sizes))]
            answers[i] = _shown_ohms(own) if ask.quantity == "ohms" else _mean_volts(own, phases)
    return answers
