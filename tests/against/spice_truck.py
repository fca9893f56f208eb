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
from dataclasses import dataclass

from against.spice_deck import NEVER, NGSPICE, SLOTS, Deck, Modes, Plain, Untidy, run
from against.spice_hearing import judge, level_points, listen, stations, supply_modes

__all__ = ["NGSPICE", "Ask", "Plain", "Untidy", "read"]

METER_OHMS = 10e6
TEST_VOLTS = 1.2
OHMS_RANGES = (600.0, 6e3, 60e3, 600e3, 6e6, 40e6)


@dataclass(frozen=True)
class Ask:
    """A reading to take.

    `state` has key, battery, adapter, fuse and unplugged, as words. `quantity` is "dc_volts", "ohms", "listen" (red
    and black then count for nothing), or "phases": volts at rest and with each talking module driving.
    """

    state: object
    red: str = ""
    black: str = ""
    quantity: str = "dc_volts"
    bit_rate: float | None = None


def _j1708_talker(truck, state, modes):
    v = truck.values
    able = [
        k for k in SLOTS
        if modes.talking[k] and v["module_j1708_fitted"][k] and f"module_{k + 1}" not in state.unplugged
    ]  # fmt: skip
    return able[0] if able else None


@dataclass
class Phase:
    """Something that drives lines for a share of time, and the commands that start and end it."""

    name: str
    share: float
    start: list
    end: list


def _enabled(name, share=0.0):
    return Phase(name, share, [f"alter ven_{name} = 1"], [f"alter ven_{name} = 0"])


def _phases(truck, state, modes, verdict):
    """Everything that drives lines."""
    v = truck.values
    found = [_enabled(name, share) for name, share in verdict.shares.items() if share] if verdict else []
    if v["can2_fitted"] and modes.talking[0]:
        found.append(_enabled("second", v["can2_share"]))
    k = _j1708_talker(truck, state, modes)
    if k is not None:
        ohms = v["module_j1708_driver_ohms"][k]
        start, end = ([f"alter rdown_m{k} = {x:.12g}", f"alter rup_m{k} = {x:.12g}"] for x in (ohms, NEVER))
        found.append(Phase("j1708", v["j1708_share"], start, end))
    return found


class Meter:
    """The decks' meter: what is switched for each reading, and what the reading then is."""

    def __init__(self, truck, modes, phases):
        self.phases = phases
        self.each_module = [_enabled(f"m{k}") for k in SLOTS if modes.talking[k]]
        self.volts_ohms = truck.untidy.meter_ohms if truck.untidy else METER_OHMS
        self.test_volts = truck.untidy.test_volts if truck.untidy else TEST_VOLTS

    def turns(self, k, quantity):
        """(commands to start, commands to end) of each operating point of a reading with the k-th pair of leads."""
        off = [f"alter ilead{k} = 0", f"alter rlead{k} = {NEVER}"]
        if quantity == "ohms":  # a source of so many volts behind a resistance, on each of its ranges
            amps = [self.test_volts / scale for scale in OHMS_RANGES]
            steps = zip(amps, OHMS_RANGES, strict=True)
            return [([f"alter ilead{k} = {x:.12g}", f"alter rlead{k} = {ohms}"], off) for x, ohms in steps]
        on = [f"alter rlead{k} = {self.volts_ohms}"]
        driven = self.each_module if quantity == "phases" else self.phases
        return [(on, off), *(([*on, *phase.start], [*off, *phase.end]) for phase in driven)]

    def reading(self, quantity, rows):
        """From the volts at both leads at each operating point."""
        volts = [red - black for red, black in rows]
        if quantity == "ohms":
            return self._ohms(volts)
        if quantity == "phases":
            return {"rest": volts[0], **{x.name: y for x, y in zip(self.each_module, volts[1:], strict=True)}}
        changes = (phase.share * (v - volts[0]) for phase, v in zip(self.phases, volts[1:], strict=True))
        return volts[0] + sum(changes)

    def _ohms(self, volts):
        """As a meter steps up its ranges until the reading fits one."""
        for full_scale, here in zip(OHMS_RANGES, volts, strict=True):
            amps = (self.test_volts - here) / full_scale
            if amps > 0 and 0 <= here / amps <= full_scale:
                return here / amps
        return math.inf


def _points(meter, asks):
    """All readings of a truck in a state, one after another: [(commands, nodes)], and how many belong to each."""
    points, counts, undo = [], [], []
    for k, ask in enumerate(asks):
        turns = meter.turns(k, ask.quantity)
        for start, end in turns:
            points.append(([*undo, *start], [ask.red, ask.black]))
            undo = end
        counts.append(len(turns))
    return points, counts


@dataclass
class _Group:
    """Readings of the same truck in the same state: they share decks."""

    truck: Plain
    state: object
    indices: list
    modes: Modes = None
    team: list = None
    verdict: object = None


def read(jobs):
    """Readings of trucks.

    Args:
        jobs: (Plain, Ask) each.

    Returns:
        for each job: volts, ohms (infinite for OL), for "listen" a pair (what the adapter shows, modules heard), for
        "phases" volts by name ("rest", "m0" for module 1, ...).

    """
    by_key = {}
    for index, (truck, ask) in enumerate(jobs):
        by_key.setdefault((id(truck), ask.state), _Group(truck, ask.state, [])).indices.append(index)
    groups = list(by_key.values())
    _find_supply(groups)
    _find_verdicts(groups)
    decks, meters = [], []
    for group in groups:
        asks = [jobs[i][1] for i in group.indices if jobs[i][1].quantity != "listen"]
        phases = _phases(group.truck, group.state, group.modes, group.verdict)
        meter = Meter(group.truck, group.modes, phases)
        points, counts = _points(meter, asks)
        leads = [(ask.red, ask.black) for ask in asks]
        decks.append((Deck(group.truck, group.state, group.modes, leads).text(), points))
        meters.append((meter, counts))
    answers = [None] * len(jobs)
    for group, (meter, counts), rows in zip(groups, meters, run(decks), strict=True):
        remaining, sizes = iter(rows), iter(counts)
        for i in group.indices:
            ask = jobs[i][1]
            if ask.quantity == "listen":
                answers[i] = listen(group.truck, group.state, group.modes, group.team, group.verdict, ask.bit_rate)
            else:
                answers[i] = meter.reading(ask.quantity, [next(remaining) for _ in range(next(sizes))])
    return answers


def _find_supply(groups):
    """Stage 1."""
    decks = [(Deck(x.truck, x.state, Modes()).text(), [([], ["distribution", "B", "A"])]) for x in groups]
    for group, [(distribution, b, a)] in zip(groups, run(decks), strict=True):
        group.modes = supply_modes(group.truck, group.state, distribution, b - a)


def _find_verdicts(groups):
    """Stage 2, where anybody is active."""
    for group in groups:
        group.team = stations(group.truck, group.state, group.modes)
    live = [group for group in groups if any(station.active for station in group.team)]
    decks = [(Deck(x.truck, x.state, x.modes).text(), level_points(x.team)) for x in live]
    for group, rows in zip(live, run(decks), strict=True):
        group.verdict = judge(group.truck, group.team, rows)
