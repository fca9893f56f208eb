"""A lesson: one practice truck from the first probe to the verdict, as a learner goes about it.

Values and a truck, nothing else: no screen, no file. Everything the learner does is a step with its minutes, by the
walk's own figures, and with what would have happened on a real truck. What is hidden is told by `judgement` only.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

from linkcheck.circuit import State
from linkcheck.errors import UsageError
from linkcheck.faults.catalogue import FAULTS
from linkcheck.faults.repairs import REPAIRS
from linkcheck.practice.fault_traffic import PLUGGED, SECONDS, Recorded, record_traffic
from linkcheck.practice.hazards import about_change, about_reading
from linkcheck.practice.hidden_truck import HiddenFault, HiddenTruck, Probe, Seen
from linkcheck.walk.checks import STATES, Check
from linkcheck.walk.costs import minutes_between, minutes_for

__all__ = ["Lesson", "Step", "minutes_of", "minutes_spent"]


@dataclass(frozen=True, slots=True)
class Step:
    """One thing the learner did.

    Attributes:
        kind: "reading", "change" of the truck's state, or "repair".
        state: the truck's, afterwards.
        minutes: it took, by the walk's figures; a repair's are those of its row.
        notes: what would have happened on a real truck; empty where all is well.
        probe, seen: of a reading.
        fault: id, of a repair.
        outcome: of a repair, in a sentence.

    """

    kind: Literal["reading", "change", "repair"]
    state: State
    minutes: float
    notes: tuple[str, ...] = ()
    probe: Probe | None = None
    seen: Seen | None = None
    fault: str = ""
    outcome: str = ""


def minutes_of(probe: Probe) -> float:
    """Minutes to take a reading in the state the truck is in, by the walk's figures."""
    check = Check("", probe.quantity, probe.red, probe.black, "key_off", "")
    return minutes_for(check, STATES["key_off"])


class Lesson:
    """A learner at a practice truck.

    Args:
        truck: with its faults in it.

    """

    def __init__(self, truck: HiddenTruck) -> None:
        self.truck = truck
        self.state = State()
        self.steps: list[Step] = []
        self._hidden = truck.hidden
        self._measured: Counter[tuple[Probe, State]] = Counter()

    def change(self, state: State) -> Step:
        """Turn the key, pull a fuse, unplug something: bring the truck into a state."""
        before, self.state = self.state, state
        return self._add(Step("change", state, minutes_between(before, state), about_change(before, state)))

    def probe(self, probe: Probe) -> Step:
        """Take a reading in the state the truck is in.

        Raises:
            UsageError: to listen without an adapter in the connector; nothing has happened.

        """
        key = probe, self.state
        seen = self.truck.probe(probe, self.state, self._measured[key])
        self._measured[key] += 1
        notes = about_reading(probe, self.state, seen)
        return self._add(Step("reading", self.state, minutes_of(probe), notes, probe, seen))

    def record(self, seconds: float = SECONDS) -> tuple[Step, Recorded]:
        """Plug everything in, turn the key on, and record the bus with the learner's own adapter.

        Args:
            seconds: how long.

        """
        before, self.state = self.state, PLUGGED
        minutes = minutes_between(before, PLUGGED) + minutes_of(Probe("listen"))
        step = self._add(Step("change", PLUGGED, minutes, about_change(before, PLUGGED)))
        return step, record_traffic(self.truck, seconds=seconds)

    def repair(self, fault: str) -> Step:
        """Repair a fault. Whether it was there is not said: measure again.

        Raises:
            UsageError: no such fault; nothing has happened.

        """
        if fault not in FAULTS or fault == "none":
            raise UsageError("there is no such fault to repair.", where=fault)
        row = REPAIRS[FAULTS[fault].repair]
        outcome = f"{row.title}: done. Measure again to see whether that was it."
        came_back = sorted(_causes(fault) & set(self.truck.faults))
        if came_back:
            outcome = f"{row.title}: done, and it fails again at once. What caused it is still there."
        elif fault in self.truck.faults:
            self.truck.without(fault)
            self._measured.clear()
        return self._add(Step("repair", self.state, row.minutes, fault=fault, outcome=outcome))

    def _add(self, step: Step) -> Step:
        self.steps.append(step)
        return step

    @property
    def readings(self) -> tuple[Step, ...]:
        """The readings taken, in order."""
        return tuple(step for step in self.steps if step.kind == "reading")

    @property
    def minutes(self) -> float:
        """Minutes spent on readings and on what led to them."""
        return minutes_spent(self.steps)

    @property
    def hidden(self) -> tuple[HiddenFault, ...]:
        """What was wrong at the start. Not for the learner's eyes before the end."""
        return self._hidden


def minutes_spent(steps: Iterable[Step]) -> float:
    """Minutes of readings and of what led to them, repairs left out."""
    return sum(step.minutes for step in steps if step.kind != "repair")


def _causes(fault: str) -> set[str]:
    """Faults that bring this one back: a blown fuse by the short behind it."""
    return {cause.fault for cause in FAULTS[fault].causes if cause.fault}
