"""Who has supply, who hears whom and what the adapter shows, in plain loops over the volts that ngspice found.

The rules are those in the docstrings of `linkcheck.circuit.supply_network` and `linkcheck.circuit.hearing`, written
a second time; no code is shared.
"""

import math
from dataclasses import dataclass

from against.spice_deck import SLOTS, Modes

TEST_AMPS = 1e-3
MOVES = 0.4


def supply_modes(truck, state, distribution, at_adapter):
    """Who has supply, from the volts of the distribution and at the adapter's connector."""
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
        of = truck.of_adapter(0 if state.adapter == "own" else 1)
        modes.adapter = at_adapter >= of("minimum_volts") and not of("dead")
    return modes


@dataclass
class Station:
    """A module or the adapter on the pair."""

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
    """The eight modules, and the adapter if one is plugged in and its data lines are whole."""
    v, found = truck.values, []
    for k in SLOTS:
        of, name = truck.of_module(k), f"module_{k + 1}"
        joined = of("present") and name not in state.unplugged
        talks = modes.talking[k]
        farads = of("pin_farads") + v["junction_farads"][k] if joined else 0.0
        pins = (f"{name}.high", f"{name}.low", "chassis")
        found.append(
            Station(
                f"m{k}", *pins, talks, of("stuck") and talks, of("wrong_rate"), of("talk") * talks, farads, of
            )
        )  # fmt: skip
    if state.adapter != "unplugged":
        of = truck.of_adapter(0 if state.adapter == "own" else 1)
        if not of("deaf"):
            nothing = (False, False, 0.0)
            found.append(Station("adapter", "C", "D", "A", modes.adapter, *nothing, of("pin_farads"), of))
    return found


def level_points(team):
    """Operating points: at rest, with each station driving (whoever is stuck drives in all of these), then with
    nobody driving, alone and with a test current across each station in turn.
    """
    pins = [name for s in team for name in (s.high, s.low, s.ground)]
    stuck = [s.name for s in team if s.stuck]
    points, undo = [([f"alter ven_{name} = 1" for name in stuck], pins)], []
    for s in team:
        points.append(([*undo, f"alter ven_{s.name} = 1"], pins))
        undo = [] if s.stuck else [f"alter ven_{s.name} = 0"]
    points.append(([*undo, *(f"alter ven_{name} = 0" for name in stuck)], pins))
    undo = []
    for s in team:
        points.append(([*undo, f"alter itest_{s.name} = {TEST_AMPS}"], pins))
        undo = [f"alter itest_{s.name} = 0"]
    return points


class Levels:
    """What `level_points` gave, by station: rest[r], driven[s][r] as (difference, mean); decay[r] in seconds."""

    def __init__(self, team, rows):
        n = len(team)

        def levels(row):
            pairs = [(row[3 * k] - row[3 * k + 2], row[3 * k + 1] - row[3 * k + 2]) for k in range(n)]
            return [(high - low, (high + low) / 2) for high, low in pairs]

        self.rest = levels(rows[0])
        self.driven = [levels(rows[1 + s]) for s in range(n)]
        quiet = levels(rows[1 + n])
        tested = [levels(rows[2 + n + s]) for s in range(n)]
        self.decay = [
            sum((tested[k][r][0] - quiet[r][0]) / TEST_AMPS * team[k].farads for k in range(n)) for r in range(n)
        ]


def ears(v, team, levels):
    """hears[s][r], moves[s][r] and held[r]."""
    n = len(team)
    hears, moves, held = [[False] * n for _ in team], [[False] * n for _ in team], [False] * n
    for r, at in enumerate(team):
        up = at.of("threshold_volts")
        back, upper = up - at.of("hysteresis_volts"), at.of("common_mode_volts")
        lower = -2.0 if upper == 7.0 else -upper
        time = v["sample_point"] / v["bit_rate"] - 2 * at.of("loop_delay_s")
        rest, rest_mean = levels.rest[r]
        held[r] = at.active and rest >= back
        for s, by in enumerate(team):
            if not (at.active and by.active):
                continue
            swing, mean = levels.driven[s][r]
            falls_in_time = levels.decay[r] * math.log(max(swing, back) / back) <= time
            in_range = lower <= mean <= upper and lower <= rest_mean <= upper
            same_rate = at.wrong_rate == by.wrong_rate
            hears[s][r] = swing >= up and not held[r] and falls_in_time and in_range and same_rate
            moves[s][r] = not hears[s][r] and swing - rest >= MOVES
    return hears, moves, held


@dataclass
class Verdict:
    """What the bus does: share of time by station, fate of each sender ("good", "broken", "alone"), and the ears."""

    shares: dict
    fates: dict
    hears: list
    moves: list
    held: list


def judge(truck, team, rows):
    """What the bus does; `rows` are the volts of `level_points`."""
    v, levels = truck.values, Levels(team, rows)
    hears, moves, held = ears(v, team, levels)
    senders = [s for s, x in enumerate(team) if x.active and x.talk > 0 and not x.stuck and not held[s]]
    total = sum(x.talk for x in team)
    shares, fates = {x.name: 1.0 for x in team if x.stuck}, {}
    for s in senders:
        fates[s] = _fate(s, senders, levels, hears, moves)
        part = team[s].talk / total
        shares[team[s].name] = {
            "good": part * v["busy_share"],
            "broken": part * v["erroring_share"],
            "alone": v["unacknowledged_share"],
        }[fates[s]]
    return Verdict(shares, fates, hears, moves, held)


def _fate(s, senders, levels, hears, moves):
    everyone = range(len(hears))
    modules = [r for r in everyone if r in SLOTS]
    against = [q for q in senders if levels.driven[q][s][0] - levels.rest[s][0] <= -MOVES]
    if not hears[s][s] or len(against) > (len(senders) - 1) / 2:
        return "broken"
    if any(moves[s][r] and (hears[r][s] or moves[r][s]) for r in modules):
        return "broken"
    if any(not hears[s][t] and any(hears[s][r] and hears[t][r] for r in everyone) for t in senders):
        return "broken"
    return "good" if any(r != s and hears[s][r] and hears[r][s] for r in everyone) else "alone"


def listen(truck, state, modes, team, verdict, bit_rate):
    """What the adapter shows, and the numbers of the modules it hears; `verdict` None if nobody at all is active."""
    if not modes.adapter:
        return "no_power", []
    of = truck.of_adapter(0 if state.adapter == "own" else 1)
    if verdict is None or team[-1].name != "adapter":
        return "silent", []
    a, same_rate = len(team) - 1, bit_rate in (None, truck.values["bit_rate"])
    hears, moves = verdict.hears, verdict.moves
    fine = same_rate and (any(hears[a][s] for s in SLOTS) or of("copes_one_way"))
    heard = [s + 1 for s in SLOTS if hears[s][a] and verdict.fates.get(s) == "good" and fine]
    noise = verdict.held[a]
    for s in SLOTS:
        noise |= bool(moves[s][a] and verdict.shares.get(team[s].name))
        noise |= bool(hears[s][a] and (verdict.fates.get(s) == "broken" or not fine))
    return "frames" if heard else "errors" if noise and of("reports_errors") else "silent", heard
