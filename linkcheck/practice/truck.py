"""The invented truck: its six modules, what each sends, and a bus with all of them on it.

Addresses are the preferred ones of SAE J1939. Periods are those of SAE J1939-71 where published, else usual ones; each
module's own clock makes them up to 7 % long or short, as in real trucks. NAME functions as in the open J1939/ISO 11783
stacks. Everything that identifies anything is made up: manufacturer code 2047, the last of its 11 bits, is in nobody's
use as far as known, and serial numbers and texts are invented.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from linkcheck.j1939.identifier import GLOBAL
from linkcheck.j1939.messages import REQUEST
from linkcheck.j1939.name import Name
from linkcheck.practice.bus import Bus, Disturbance
from linkcheck.practice.codes import Code
from linkcheck.practice.controller import Controller
from linkcheck.practice.day import Day
from linkcheck.practice.module import MS, SECOND, Module, ModulePlan, Sending
from linkcheck.practice.payloads import PAYLOADS
from linkcheck.practice.plant import Plant
from linkcheck.practice.recorder import Recorder

__all__ = [
    "BODY",
    "BRAKES",
    "CAB",
    "ENGINE",
    "PLANS",
    "RETARDER",
    "TOOL_PLAN",
    "TRANSMISSION",
    "Truck",
    "build_truck",
    "counted",
    "name_of",
    "sending",
]

ENGINE, TRANSMISSION, BRAKES, RETARDER, BODY, CAB, TOOL = 0, 3, 11, 15, 33, 49, 249
MANUFACTURER = 2047
KEY_ON_NS = 150 * MS  # the recorder starts just before the key is turned
CLOCK_ERROR = 0.07
RESTART_NS = 250 * MS  # from bus-off to the request for recovery

NETWORK_SILENT = Code(639, 9)  # J1939 network 1, abnormal update rate
FRONT_AXLE_SPEED_LOST = Code(904, 19)  # front axle speed, received network data in error
RETARDER_TORQUE_LOST = Code(520, 19)


def name_of(function: int, serial: int, *, instance: int = 0, movable: bool = False) -> Name:
    """An invented NAME: a function, and a serial number that says which truck."""
    return Name(
        identity=serial,
        manufacturer=MANUFACTURER,
        function=function,
        function_instance=instance,
        industry_group=0 if movable else 1,
        arbitrary_address_capable=int(movable),
    )


def sending(pgn: int, period_ms: float, *, priority: int = 6, destination: int = GLOBAL) -> Sending:
    """A periodic message with its usual payload; torque requests are sent only while the transmission shifts."""
    payload = PAYLOADS[pgn]
    only_if = Plant.shifting if pgn == 0 else None
    return Sending(pgn, priority, period_ms, lambda plant, t, _n: payload(plant, t), destination, only_if)


def counted(pgn: int, period_ms: float, first: int = 0) -> Sending:
    """A proprietary message whose last byte counts the messages."""
    return Sending(pgn, 6, period_ms, lambda _plant, _t, n: bytes([0x5A, *b"\xff" * 6, (first + n) % 256]))


def _component(model: str) -> bytes:
    """Make, model, serial number and unit number, each ended by a star (SPN 586-588, 233)."""
    return f"INVENTED*{model}*SN{MANUFACTURER:06d}*1*".encode()


HOURS = (48_123).to_bytes(4, "little") + (9_120_000).to_bytes(4, "little")  # SPN 247, 249
RETARDER_CONFIGURATION = bytes.fromhex("FF10C0127DE04725607D56E02E2BA0413406FF")  # 19 bytes, made up
RETARDER_CONFIGURATION_PGN = 65249

PLANS: dict[int, ModulePlan] = {
    plan.address: plan
    for plan in (
        ModulePlan(
            address=ENGINE,
            name=name_of(0, 100_000),
            boot_ms=90,
            sendings=(
                sending(61444, 20, priority=3),
                sending(61443, 50, priority=3),
                sending(61450, 50, priority=3),
                sending(64916, 100),
                sending(65247, 250),
                sending(65266, 100),
                sending(65270, 500),
                sending(65263, 500),
                sending(65262, 1000),
                sending(65269, 1000),
                sending(65271, 1000),
                sending(65245, 1000),
            ),
            answers={65253: HOURS, 65259: _component("ENGINE-ONE"), 65260: b"XX0INVENTED000001*"},
            watches={TRANSMISSION: (Code(191, 9),), BRAKES: (NETWORK_SILENT,)},
        ),
        ModulePlan(
            address=TRANSMISSION,
            name=name_of(3, 200_000),
            boot_ms=140,
            sendings=(
                sending(0, 10, priority=3, destination=ENGINE),
                sending(61442, 10, priority=3),
                sending(61445, 100),
                sending(65098, 100),
                sending(65272, 1000),
            ),
            answers={65259: _component("GEARS-TWELVE")},
            watches={ENGINE: (Code(190, 9),), BRAKES: (NETWORK_SILENT, FRONT_AXLE_SPEED_LOST)},
        ),
        ModulePlan(
            address=BRAKES,
            name=name_of(9, 300_000),
            boot_ms=220,
            sendings=(
                sending(61449, 10),
                sending(65134, 20, priority=2),
                sending(61441, 100),
                sending(65215, 100),
                sending(64964, 100),
                sending(65103, 100),
            ),
            answers={65259: _component("BRAKES-SIX")},
        ),
        ModulePlan(
            address=RETARDER,
            name=name_of(12, 400_000),
            boot_ms=180,
            sendings=(
                sending(61440, 100),
                sending(65275, 1000),
                Sending(RETARDER_CONFIGURATION_PGN, 6, 5000, lambda *_: RETARDER_CONFIGURATION),
            ),
        ),
        ModulePlan(
            address=BODY,
            name=name_of(26, 500_000),
            boot_ms=300,
            sendings=(
                sending(65217, 1000),
                sending(65276, 1000),
                sending(65198, 1000),
                sending(65088, 1000),
            ),
            watches={BRAKES: (NETWORK_SILENT,)},
        ),
        ModulePlan(
            address=CAB,
            name=name_of(37, 600_000),
            boot_ms=350,
            sendings=(
                sending(65265, 100),
                sending(57344, 1000),
                sending(65254, 1000),
                sending(61443, 50, priority=3),
                counted(65281, 200),
            ),
            watches={BRAKES: (NETWORK_SILENT,), RETARDER: (RETARDER_TORQUE_LOST,)},
        ),
    )
}


TOOL_PLAN = ModulePlan(address=TOOL, name=name_of(129, 900_000, movable=True), tells_codes=False)


@dataclass(slots=True)
class Truck:
    """A bus with modules and a recorder."""

    bus: Bus
    plant: Plant
    modules: dict[int, Module]
    recorder: Recorder
    day: Day

    def add(self, plan: ModulePlan, *, key: str = "", boots: bool = True) -> Module:
        """Put one more module on the bus; it wakes with the key unless `boots` is False."""
        chance = self.day.chance(plan.address, key)
        clock = 1 + chance.uniform(-CLOCK_ERROR, CLOCK_ERROR)
        own = replace(plan, name=replace(plan.name, identity=plan.name.identity + int(chance.random() * 90_000)))
        controller = self.bus.attach(Controller(f"{plan.address}{key}", restart_after_ns=RESTART_NS))
        module = Module(own, self.bus, controller, self.plant, chance, clock=clock)
        if boots:
            self.bus.at(KEY_ON_NS, module.power_on)
        return module

    def add_tool(self, asks: tuple[tuple[float, int, int], ...], *, at_s: float = 1.0) -> Module:
        """Plug in an off-board tool that asks (time in seconds, address, group)."""
        module = self.add(TOOL_PLAN, boots=False)
        self.bus.at(int(at_s * SECOND), module.power_on)
        for time_s, address, pgn in asks:

            def ask(_now_ns: int, address: int = address, pgn: int = pgn) -> None:
                module.send(REQUEST, pgn.to_bytes(3, "little"), destination=address, replace=False)

            self.bus.at(int(time_s * SECOND), ask)
        return module


def build_truck(
    day: Day,
    plant: Plant,
    *,
    bit_rate: int | None = None,
    addresses: tuple[int, ...] = tuple(PLANS),
    listen_only: bool = True,
    deaf: tuple[tuple[int, int], ...] = (),
    disturbance: Disturbance | None = None,
) -> Truck:
    """The invented truck.

    Args:
        day: decides everything random.
        plant: its machinery.
        bit_rate: bits per second, if not the day's.
        addresses: which of its modules are fitted.
        listen_only: whether the recorder keeps its mouth shut, or acknowledges and signals errors like a module.
        deaf: times (from, to) in nanoseconds during which the recorder's plug has no contact.
        disturbance: what the wiring does to frames.

    """
    bus = Bus(bit_rate or day.bit_rate, disturbance)
    controller = bus.attach(Controller("recorder", acknowledges=not listen_only))
    recorder = Recorder(controller, bus.bit_rate, begin_ns=day.begin_ns, deaf=deaf)
    truck = Truck(bus, plant, {}, recorder, day)
    for address in addresses:
        truck.modules[address] = truck.add(PLANS[address])
    return truck
