"""The table of scenarios: invented trucks on invented days, each with something hidden in its traffic, or nothing.

To add one: write a function that lets a truck live through a day and says what is hidden, and put it in `SCENARIOS`.
Nothing in here, no number, name or fault, comes from a real vehicle.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

from linkcheck.errors import UsageError
from linkcheck.j1939.identifier import join
from linkcheck.j1939.messages import ADDRESS_CLAIM
from linkcheck.practice.actors import Flood, add_beacon
from linkcheck.practice.day import Day
from linkcheck.practice.module import SECOND, ModulePlan, Sending
from linkcheck.practice.recorder import Recorder
from linkcheck.practice.recording import Recording, live, record
from linkcheck.practice.truck import (
    BODY,
    BRAKES,
    CAB,
    ENGINE,
    PLANS,
    RETARDER,
    TOOL_PLAN,
    TRANSMISSION,
    build_truck,
    counted,
    name_of,
    sending,
)
from linkcheck.practice.truth import Implausible, Unanswered
from linkcheck.practice.wire import Frame
from linkcheck.practice.wiring import SlowEdges

__all__ = ["SCENARIOS", "Scenario", "simulate"]

WARM_UP_S = 3.0  # the recorder is switched on when the truck has long been talking
HOURS, COMPONENT, VEHICLE, DM2 = 65253, 65259, 65260, 65227
LOGGER, CLIMATE, CLUSTER, GATEWAY = 251, 25, 23, 37


@dataclass(frozen=True, slots=True)
class Scenario:
    """A row of the table: what it shows, how long it lasts, and what happens."""

    shows: str
    seconds: float
    play: Callable[[Day], Recording]
    begin_s: float = 0.0


def healthy(day: Day) -> Recording:
    """Key on, engine cold and off, then started; a tool asks for identification."""
    truck = build_truck(day, replace(day.plant(), start_s=8.0 + day.chance("start").uniform(0, 1)))
    asks = ((3.0, ENGINE, HOURS), (3.4, ENGINE, COMPONENT), (4.2, 255, VEHICLE), (5.0, TRANSMISSION, COMPONENT))
    truck.add_tool((*asks, (7.0, BRAKES, DM2)))
    return record(can0=live(day, truck))


def drops_over_bumps(day: Day) -> Recording:
    """The branch to the brake controller loses its power over bumps; sometimes the retarder's goes with it."""
    truck = build_truck(day, replace(day.plant(), road=True))
    cuts = day.spells("bumps", lengths_s=(0.3, 3.0), pauses_s=(1.5, 6.0), first_s=2.0)
    chance = day.chance("branch")
    together = [chance.random() < 0.5 for _ in cuts]
    if len(cuts) > 1:
        together[0], together[-1] = False, True
    truck.modules[BRAKES].lose_power(cuts)
    truck.modules[RETARDER].lose_power(tuple(cut for cut, both in zip(cuts, together, strict=True) if both))
    channel = live(day, truck)
    silences = tuple(
        channel.silence((BRAKES, RETARDER) if both else (BRAKES,), lost_ns, "its branch lost power")
        for (lost_ns, _), both in zip(cuts, together, strict=True)
    )
    channel.truth = replace(channel.truth, silences=silences)
    return record(can0=channel)


def nobody_acknowledges(day: Day) -> Recording:
    """One module alone with a listen-only recorder: it repeats its claim for ever."""
    channel = live(day, build_truck(day, day.plant(), addresses=(ENGINE,)))
    channel.truth = replace(channel.truth, unacknowledged=(join(6, ADDRESS_CLAIM, ENGINE, 255),))
    return record(can0=channel)


def tool_alone(day: Day) -> Recording:
    """The tool at a dead connector: the recorder is its own controller and sees nothing but its own failure."""
    truck = build_truck(day, day.plant(), addresses=())
    tool = truck.add(TOOL_PLAN)
    truck.recorder = Recorder(tool.controller, day.bit_rate)
    return record(can0=live(day, truck))


def address_used_twice(day: Day) -> Recording:
    """A second cab controller is plugged in, claims the same address, loses, and talks on."""
    truck = build_truck(day, replace(day.plant(), start_s=1.0))
    usual = PLANS[CAB]
    twin = replace(
        usual,
        name=replace(usual.name, function_instance=1),
        sendings=tuple(_of_the_twin(row) for row in usual.sendings),
        yields=False,
    )
    module = truck.add(twin, key="twin", boots=False)
    truck.bus.at(int((day.begin_s + 4.0 + day.chance("plugged").uniform(0, 1)) * SECOND), module.power_on)
    channel = live(day, truck)
    channel.truth = replace(channel.truth, shared=(CAB,) if module.talking else ())
    return record(can0=channel)


def _of_the_twin(row: Sending) -> Sending:
    """The twin is wired to nothing: it knows no road speed and no pedal, and its counter is another one."""
    if row.pgn == 65281:
        return counted(65281, row.period_ms, first=128)
    if row.pgn in {65265, 61443}:
        return replace(row, payload=lambda *_: b"\xff" * 8)
    return row


def flood(day: Day) -> Recording:
    """The body controller sends top-priority frames back to back; hardly anybody else gets through."""
    truck = build_truck(day, replace(day.plant(), start_s=1.0))
    chance = day.chance("flood")
    start_s = day.seconds * chance.uniform(0.25, 0.35)
    end_s = start_s + day.seconds * 0.35
    frame = Frame(join(0, 65280, BODY, 255), bytes.fromhex("00FF00FF00FF00FF"))
    controller = truck.modules[BODY].controller
    start_ns, end_ns = int(start_s * SECOND), int(end_s * SECOND)
    Flood(truck.bus, controller, frame, start_ns=start_ns, end_ns=end_ns, chance=chance)
    channel = live(day, truck)
    channel.truth = replace(channel.truth, flood=(frame.identifier, start_s, end_s))
    return record(can0=channel)


def terminator_lost(day: Day) -> Recording:
    """A terminator falls off: error frames grow, the transmission beside it goes bus-off and comes back."""
    edges = SlowEdges(day.chance("edges"))
    truck = build_truck(day, replace(day.plant(), start_s=1.0), listen_only=False, disturbance=edges)
    lost_s = day.seconds * 0.25

    def grows(most: float) -> Callable[[float], float]:
        """Nothing before, then more and more as the engine shakes the loose end."""
        return lambda t: most * min(1.0, max(0.0, (t - lost_s) / (0.5 * day.seconds)))

    for address, module in truck.modules.items():
        edges.as_sender[module.controller] = grows(0.32 if address == TRANSMISSION else 0.01)
    edges.as_receiver[truck.bus.controllers[0]] = grows(0.10)
    return record(can0=live(day, truck))


def logger_bus_off(day: Day) -> Recording:
    """The recorder is an on-board logger that also sends, over a bad stub: warning, passive, bus-off, and back."""
    edges = SlowEdges(day.chance("edges"))
    truck = build_truck(day, replace(day.plant(), start_s=1.0), disturbance=edges)
    plan = ModulePlan(address=LOGGER, name=name_of(130, 700_000), sendings=(counted(65290, 10),))
    logger = truck.add(plan)
    truck.recorder = Recorder(logger.controller, day.bit_rate)
    spells = day.spells("stub", lengths_s=(0.8, 1.6), pauses_s=(2.0, 4.0), first_s=2.5)

    def bad(t: float) -> float:
        return 0.6 if any(start_ns <= t * SECOND < end_ns for start_ns, end_ns in spells) else 0.0

    edges.as_sender[logger.controller] = bad
    channel = live(day, truck)
    channel.truth = replace(channel.truth, gaps=tuple(channel.gap(lost_ns) for lost_ns in logger.bus_offs_ns))
    return record(can0=channel)


def loose_plug(day: Day) -> Recording:
    """The recorder's own plug loses contact: everybody falls silent at once."""
    spells = day.spells("plug", lengths_s=(0.05, 1.2), pauses_s=(1.5, 5.0), first_s=2.0)
    channel = live(day, build_truck(day, replace(day.plant(), road=True), deaf=spells))
    channel.truth = replace(channel.truth, gaps=tuple(channel.gap(lost_ns) for lost_ns, _ in spells))
    return record(can0=channel)


def module_mute(day: Day) -> Recording:
    """The brake controller never speaks: the others set codes, and a tool asks it in vain."""
    fitted = tuple(address for address in PLANS if address != BRAKES)
    truck = build_truck(day, replace(day.plant(), start_s=6.0), addresses=fitted)
    asks = ((4.0, ENGINE, DM2), (4.5, TRANSMISSION, HOURS))  # the second of these is refused
    in_vain = tuple((at_s, BRAKES, COMPONENT) for at_s in (5.0, 6.3, 7.6) if at_s < day.seconds)
    truck.add_tool(asks + in_vain)
    channel = live(day, truck)
    unanswered = (Unanswered(BRAKES, COMPONENT, len(in_vain)),) if in_vain else ()
    channel.truth = replace(channel.truth, missing=(BRAKES,), unanswered=unanswered)
    return record(can0=channel)


def two_channels(day: Day) -> Recording:
    """The powertrain on can0 and a body network on can1 at 500 kbit/s."""
    plant = replace(day.plant(), start_s=3.0)
    body = build_truck(day, plant, addresses=(), bit_rate=500_000)
    fast = ((61444, 20, 3), (65134, 20, 2), (61442, 10, 3), (61449, 10, 6))
    repeated = tuple(sending(pgn, period_ms, priority=priority) for pgn, period_ms, priority in fast)
    body.modules = {
        plan.address: body.add(plan, key="can1")
        for plan in (
            replace(PLANS[BODY], watches={}),
            replace(PLANS[CAB], watches={}),
            ModulePlan(address=CLUSTER, name=name_of(19, 800_000), sendings=(counted(65283, 10),)),
            ModulePlan(address=GATEWAY, name=name_of(28, 820_000), sendings=repeated),
            ModulePlan(address=CLIMATE, name=name_of(21, 810_000), sendings=(counted(65282, 250),)),
        )
    }
    return record(can0=live(day, build_truck(day, plant)), can1=live(day, body))


def beside_11_bit(day: Day) -> Recording:
    """An added device sends 11-bit frames on the same wires."""
    truck = build_truck(day, replace(day.plant(), start_s=3.0))
    messages = {0x1A0: (100.0, 8), 0x2B4: (50.0, 8), 0x3F1: (200.0, 4)}
    add_beacon(truck.bus, messages, day.chance("beacon"), start_ns=SECOND)
    channel = live(day, truck)
    channel.truth = replace(channel.truth, eleven_bit=tuple(messages))
    return record(can0=channel)


def coolant_stuck(day: Day) -> Recording:
    """Cold engine, key on, and the coolant sensor says 87 degrees."""
    channel = live(day, build_truck(day, replace(day.plant(), stuck_coolant_c=87.0)))
    channel.truth = replace(channel.truth, implausible=(Implausible(110, ENGINE, 87.0, "degC"),))
    return record(can0=channel)


def battery_low(day: Day) -> Recording:
    """Key on, engine off, and the engine computer sees under 11 volts."""
    plant = replace(day.plant(), battery_v=10.9)
    channel = live(day, build_truck(day, plant))
    reading = Implausible(168, ENGINE, round(plant.battery_now_v(day.seconds / 2), 2), "V")
    channel.truth = replace(channel.truth, implausible=(reading,))
    return record(can0=channel)


SCENARIOS: dict[str, Scenario] = {
    "healthy": Scenario("nothing wrong: key on, engine cold and off, then started; a tool asks around", 20, healthy),
    "drops-over-bumps": Scenario("one branch loses power now and then on the road", 30, drops_over_bumps, WARM_UP_S),
    "loose-plug": Scenario("the recorder's own plug loses contact: all silent at once", 20, loose_plug, WARM_UP_S),
    "module-mute": Scenario("one module never speaks, others set codes", 12, module_mute),
    "nobody-acknowledges": Scenario("one module alone repeats its claim, nobody acknowledges", 10, nobody_acknowledges),
    "tool-alone": Scenario("the tool itself is the only one on a dead connector", 10, tool_alone),
    "address-used-twice": Scenario("two devices talk under one address", 20, address_used_twice),
    "flood": Scenario("one address sends top-priority frames back to back", 15, flood),
    "terminator-lost": Scenario("errors grow until one module goes bus-off and comes back", 20, terminator_lost),
    "logger-bus-off": Scenario("the recorder's own controller: warning, passive, bus-off, back", 20, logger_bus_off),
    "two-channels": Scenario("two networks at two bit rates", 10, two_channels),
    "beside-11-bit": Scenario("a device with 11-bit identifiers on the same wires", 10, beside_11_bit),
    "coolant-stuck": Scenario("cold engine, coolant sensor stuck at 87 degC", 12, coolant_stuck),
    "battery-low": Scenario("the engine computer sees a flat battery", 12, battery_low),
}


def simulate(name: str, *, seed: int = 1, seconds: float | None = None, bit_rate: int | None = None) -> Recording:
    """Simulate one scenario.

    Args:
        name: a key of `SCENARIOS`.
        seed: which truck and which day; the same seed gives the same frames.
        seconds: how long to record; the scenario's own length by default.
        bit_rate: bits per second of can0; 250,000 by default.

    Raises:
        UsageError: no such scenario.

    """
    scenario = SCENARIOS.get(name)
    if scenario is None:
        raise UsageError(f"There is no scenario {name!r}.", todo=f"There are: {', '.join(SCENARIOS)}.")
    day = Day(name, seed, scenario.seconds if seconds is None else seconds, bit_rate or 250_000, scenario.begin_s)
    return scenario.play(day)
