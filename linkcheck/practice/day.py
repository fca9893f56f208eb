"""One simulated day: the truck a seed makes, and how its traffic and truth are gathered afterwards.

Scenarios are written with this; the faults themselves are in `scenarios`.
"""

from __future__ import annotations

import random
from dataclasses import dataclass, field
from typing import Any

from linkcheck.frames import ERROR, EXTENDED, FrameBatch
from linkcheck.practice.chance import seeded
from linkcheck.practice.module import SECOND
from linkcheck.practice.plant import Plant
from linkcheck.practice.recorder import Recorder, as_batch
from linkcheck.practice.truck import Truck, build_truck
from linkcheck.practice.truth import CodeSet, Silence, Truth

__all__ = ["Channel", "Day", "Recording"]

START_NS = 1_700_000_000 * SECOND  # by the recorder's clock: 14 November 2023, 22:13:20 UTC
TOLD_NS = 1_500_000_000  # a code set later than this before the end may not have been told any more


@dataclass(frozen=True, slots=True)
class Recording:
    """A simulated capture and what is hidden in it, by interface."""

    batch: FrameBatch
    truths: dict[str, Truth]


@dataclass(slots=True)
class Channel:
    """One bus of the day, after it was run."""

    truck: Truck
    facts: dict[str, Any] = field(default_factory=dict)

    @property
    def recorder(self) -> Recorder:
        """What was written down."""
        return self.truck.recorder

    def frame_times_s(self, *addresses: int) -> list[float]:
        """Times of all J1939 frames from these addresses, or from anyone."""
        return [
            time_ns / SECOND
            for time_ns, identifier, flags, _ in self.recorder.rows
            if flags == EXTENDED and (not addresses or identifier & 0xFF in addresses)
        ]

    def gap_around(self, time_ns: int, *addresses: int) -> tuple[float, float]:
        """The last frame before a time of the simulation and the first one after it (the last of all if none)."""
        at_s = (time_ns - self.recorder.begin_ns) / SECOND
        times = self.frame_times_s(*addresses)
        end_s = self.recorder.rows[-1][0] / SECOND
        return max(t for t in times if t <= at_s), min((t for t in times if t > at_s), default=end_s)

    def silence(self, addresses: tuple[int, ...], lost_ns: int, cause: str) -> Silence:
        """Modules that lost the bus together at a time of the simulation."""
        return Silence(addresses, *self.gap_around(lost_ns + 1_000_000, *addresses), cause)

    def truth(self, bit_rate: int, end_ns: int) -> Truth:
        """What is hidden, as far as the simulation itself knows, and the scenario's own facts."""
        rows = self.recorder.rows
        talking = {identifier & 0xFF for _, identifier, flags, _ in rows if flags == EXTENDED}
        codes = {
            CodeSet(address, code.spn, code.fmi)
            for address, module in self.truck.modules.items()
            for set_ns, code in module.codes.set_at
            if set_ns < end_ns - TOLD_NS
        }
        bus_offs = tuple(
            self.silence((address,), lost_ns, "its controller went bus-off")
            for address, module in self.truck.modules.items()
            for lost_ns in module.bus_offs_ns
            if lost_ns > self.recorder.begin_ns
        )
        silences = (*self.facts.pop("silences", ()), *bus_offs)
        return Truth(
            bit_rate=bit_rate,
            addresses=tuple(sorted(talking)),
            silences=tuple(sorted(silences, key=lambda silence: silence.from_s)),
            codes=tuple(sorted(codes, key=lambda code: (code.address, code.spn))),
            error_frames=sum(flags == ERROR for _, _, flags, _ in rows),
            states=tuple(dict.fromkeys(state.name.lower().replace("_", "-") for state in self.recorder.states)),
            **self.facts,
        )


@dataclass(frozen=True, slots=True)
class Day:
    """What decides everything about a simulated capture.

    Attributes:
        scenario: its name. seed: which truck, which day. seconds: how long it is recorded. bit_rate: of can0.
        begin_s: when the recorder is switched on, seconds after the simulation begins.

    """

    scenario: str
    seed: int
    seconds: float
    bit_rate: int
    begin_s: float = 0.0

    def chance(self, purpose: str) -> random.Random:
        """Random numbers for one purpose."""
        return seeded(self.scenario, self.seed, purpose)

    @property
    def end_ns(self) -> int:
        """When the recorder is switched off, by the simulation's clock."""
        return int((self.begin_s + self.seconds) * SECOND)

    def plant(self, **different: Any) -> Plant:  # noqa: ANN401  the fields of Plant
        """A truck's machinery on this day."""
        chance = self.chance("plant")
        usual: dict[str, Any] = {
            "ambient_c": round(chance.uniform(2.0, 18.0), 2),
            "barometric_kpa": round(chance.uniform(96.0, 101.5), 1),
            "battery_v": round(chance.uniform(12.45, 12.75), 2),
            "phase": round(chance.random(), 3),
        }
        return Plant(**usual | different)

    def truck(self, plant: Plant, **different: Any) -> Truck:  # noqa: ANN401  the arguments of build_truck
        """The truck, not yet run."""
        usual: dict[str, Any] = {"bit_rate": self.bit_rate, "begin_s": self.begin_s}
        return build_truck(f"{self.scenario}/{self.seed}", plant, **usual | different)

    def run(self, truck: Truck) -> Channel:
        """Let a truck live through the day."""
        truck.bus.run(self.end_ns)
        return Channel(truck)

    def spells(
        self, purpose: str, *, lengths_s: tuple[float, float], pauses_s: tuple[float, float], first_s: float
    ) -> tuple[tuple[int, int], ...]:
        """Irregular times (from, to) in nanoseconds, all over well before the end."""
        chance = self.chance(purpose)
        spells: list[tuple[int, int]] = []
        at_s = self.begin_s + first_s + chance.uniform(0, pauses_s[0])
        while True:
            length_s = chance.uniform(*lengths_s)
            if (at_s + length_s + 1.0) * SECOND > self.end_ns:
                return tuple(spells)
            spells.append((int(at_s * SECOND), int((at_s + length_s) * SECOND)))
            at_s += length_s + chance.uniform(*pauses_s)

    def record(self, **channels: Channel) -> Recording:
        """Put the buses of the day into one capture."""
        batch = as_batch({name: channel.recorder for name, channel in channels.items()}, START_NS)
        truths = {name: channel.truth(channel.truck.bus.bit_rate, self.end_ns) for name, channel in channels.items()}
        return Recording(batch, truths)
