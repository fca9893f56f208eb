"""The best path on a practice truck: the tool's own walk, from the first check to its finding, on the same truck."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

from linkcheck.circuit import State
from linkcheck.jobs.session import Session
from linkcheck.jobs.walk_file import NoRecord
from linkcheck.practice.adviser import heard_word, probe_of
from linkcheck.practice.hidden_truck import HiddenTruck
from linkcheck.walk.checks import Check
from linkcheck.walk.costs import minutes_for
from linkcheck.walk.messages import Answer, Finding, Setup
from linkcheck.walk.reasons import check_words

__all__ = ["BestPath", "PathStep", "best_path"]


@dataclass(frozen=True, slots=True)
class PathStep:
    """A reading on the way: what, in which state of the truck, what it showed, and minutes with all that led to it."""

    words: str
    state: State
    shown: str
    minutes: float


@dataclass(frozen=True, slots=True)
class BestPath:
    """How the tool found it.

    Attributes:
        steps: its readings, in order.
        finding: how it ended.
        named: ids of the faults it is for, most certain first; empty for a sound truck.

    """

    steps: tuple[PathStep, ...]
    finding: Finding
    named: tuple[str, ...]

    @property
    def readings(self) -> int:
        """How many."""
        return len(self.steps)

    @property
    def minutes(self) -> float:
        """All of them."""
        return sum(step.minutes for step in self.steps)


def best_path(truck: HiddenTruck, setup: Setup) -> BestPath:
    """Let the tool walk a truck to the end.

    Args:
        truck: as the learner found it; it is only measured.
        setup: of the walk.

    """
    session = Session(setup, [], NoRecord())
    session.settle()
    layout, seen_before, found = session.walk.layout, Counter[str](), []
    while (check := session.walk.check) is not None:
        typed, shown = _answer(truck, check, layout.equipment.bit_rate, seen_before[check.id])
        seen_before[check.id] += 1
        minutes = minutes_for(check, session.walk.now.state)
        found.append(PathStep(check_words(check, layout).replace("_", " "), check.state, shown, minutes))
        session.take(Answer(check.id, typed))
    return BestPath(tuple(found), session.walk.finding, session.walk.opinion.belief.leader)


def _answer(truck: HiddenTruck, check: Check, bit_rate: float, times: int) -> tuple[str, str]:
    """What is typed for a check on this truck, and what was shown."""
    seen = truck.probe(probe_of(check, bit_rate), check.state, times)
    if check.quantity == "heard":
        return heard_word(seen), f"{len(seen.heard)} modules"
    return seen.typed, seen.shown
