"""What a recording of a practice truck's bus holds: simulated traffic that fits what is wrong with its circuit.

The circuit says what an adapter at the connector shows and whom it hears; the simulated bus (`bus`, `truck`) is then
made such a one: modules that are not heard are not on it, a pair without its terminator has slow edges, a recorder
behind a broken line reads errors only. How often a bit is misread is invented, as everything here.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import partial

from linkcheck.circuit import State
from linkcheck.practice.day import Day
from linkcheck.practice.hidden_truck import HiddenTruck, Probe
from linkcheck.practice.module import SECOND
from linkcheck.practice.plant import Plant
from linkcheck.practice.recorder import Recorder
from linkcheck.practice.recording import Recording, live, record
from linkcheck.practice.signalling import BusError, ErrorKind
from linkcheck.practice.truck import TOOL_PLAN, Truck, build_truck
from linkcheck.practice.wire import Place
from linkcheck.practice.wiring import SlowEdges

__all__ = ["PLUGGED", "SECONDS", "Recorded", "record_traffic"]

PLUGGED = State(key="on", adapter="own")
SECONDS = 15.0
RINGING = 0.004  # share of frames a module misreads on a pair with one terminator
CANNOT_READ = 1.0
HELD_ERROR_NS = 20_000_000  # a driver reports a held pair now and then, not bit by bit; invented
LIMP_FAULTS = ("terminator_missing", "terminator_value", "backbone_open", "backbone_resistance")


@dataclass(frozen=True, slots=True)
class Recorded:
    """A recording that was tried.

    Attributes:
        recording: what came of it; None where there was nothing to record.
        words: one sentence about it.

    """

    recording: Recording | None
    words: str


def record_traffic(truck: HiddenTruck, *, seconds: float = SECONDS) -> Recorded:
    """Record the bus of a practice truck with its own adapter, key on.

    Args:
        truck: as it is now, repaired or not.
        seconds: how long.

    """
    seen = truck.probe(Probe("listen"), PLUGGED)
    day = Day(f"practice {'+'.join(truck.faults)}", truck.seed, seconds, round(truck.bit_rate))
    if seen.typed == "no_power":
        return Recorded(None, "The adapter gets no power: there is nothing to record with.")
    if seen.typed == "frames":
        return Recorded(_talking(truck, day, seen.heard), f"{seconds:g} s recorded.")
    doing = truck.activity(PLUGGED)
    if seen.typed == "silent":
        if doing != "idle":
            return Recorded(None, f"{seconds:g} s of listening, and not one frame or error.")
        return Recorded(
            _alone(day), f"{seconds:g} s recorded. Nobody else talks, so the tool asked, and got no answer."
        )
    if truck.held(PLUGGED):
        return Recorded(_held(day), f"{seconds:g} s recorded: errors, and not one frame.")
    return Recorded(_unreadable(truck, day), f"{seconds:g} s recorded: errors only.")


def _plant(truck: HiddenTruck, day: Day) -> Plant:
    """The day's machinery, with the batteries as they are on this truck."""
    volts = truck.probe(Probe("dc_volts", "battery_positive", "battery_negative"), PLUGGED).figure
    return replace(day.plant(), battery_v=round(volts or 0.0, 2))


def _talking(truck: HiddenTruck, day: Day, heard: tuple[int, ...]) -> Recording:
    """Whoever is heard talks; on a pair with slow edges, errors come along."""
    limp = any(fault.startswith(LIMP_FAULTS) for fault in truck.faults)
    edges = SlowEdges(day.chance("edges")) if limp else None
    built = build_truck(day, _plant(truck, day), addresses=heard, listen_only=edges is None, disturbance=edges)
    if edges is not None:
        for module in built.modules.values():
            edges.as_sender[module.controller] = lambda _t: RINGING
        edges.as_receiver[built.bus.controllers[0]] = lambda _t: RINGING
    return record(can0=live(day, built))


def _alone(day: Day) -> Recording:
    """No module is awake: the tool asks and nobody acknowledges."""
    built = build_truck(day, day.plant(), addresses=())
    built.recorder = Recorder(built.add(TOOL_PLAN).controller, day.bit_rate)
    return record(can0=live(day, built))


def _held(day: Day) -> Recording:
    """The pair is held dominant: nobody can begin a frame, and the recorder's receive counter climbs."""
    built = build_truck(day, day.plant(), addresses=(), listen_only=False)
    for time_ns in range(SECOND // 10, day.end_ns, HELD_ERROR_NS):
        built.bus.at(time_ns, partial(_count_held, built))
    return record(can0=live(day, built))


def _count_held(built: Truck, now_ns: int) -> None:
    controller = built.bus.controllers[0]
    controller.counters.received_error(dominant_after_flag=True)
    controller.tell_error(now_ns, BusError(ErrorKind.STUFF, Place.ID_28_21))


def _unreadable(truck: HiddenTruck, day: Day) -> Recording:
    """Frames move and nobody reads them, or only the recorder does not."""
    edges = SlowEdges(day.chance("edges"))
    broken = truck.activity(PLUGGED) == "erroring"
    built = build_truck(day, _plant(truck, day), disturbance=edges, listen_only=not broken)
    edges.as_receiver[built.bus.controllers[0]] = lambda _t: CANNOT_READ
    if broken:
        for module in built.modules.values():
            edges.as_sender[module.controller] = lambda _t: CANNOT_READ
    return record(can0=live(day, built))
