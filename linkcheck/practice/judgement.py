"""How a lesson ended: what was hidden, what the learner did about it, and the tool's own path beside it."""

from __future__ import annotations

from dataclasses import dataclass

from linkcheck.practice.best_path import BestPath
from linkcheck.practice.hidden_truck import HiddenFault
from linkcheck.practice.lesson import Lesson, minutes_spent

__all__ = ["Verdict", "judge"]


@dataclass(frozen=True, slots=True)
class Verdict:
    """How a lesson ended.

    Attributes:
        hidden: what it was; empty for a truck with nothing wrong.
        repaired: ids of hidden faults that the learner repaired.
        needless: ids of repairs that changed nothing.
        found: all that was hidden is repaired, and nothing needless was done.
        readings, minutes: until the last repair that was needed (until the end where there was none), without repairs.
        warnings: how many things were done that would have hurt on a real truck.
        best: the tool's own path on the same truck.

    """

    hidden: tuple[HiddenFault, ...]
    repaired: tuple[str, ...]
    needless: tuple[str, ...]
    found: bool
    readings: int
    minutes: float
    warnings: int
    best: BestPath


def judge(lesson: Lesson, best: BestPath) -> Verdict:
    """What it was, and how the learner's path compares.

    Args:
        lesson: as it stands; whatever is not repaired now counts as not found.
        best: the tool's own path on the same truck, as the learner found it.

    """
    hidden = {fault.id for fault in lesson.hidden}
    repairs = [(index, step.fault) for index, step in enumerate(lesson.steps) if step.kind == "repair"]
    repaired = hidden - set(lesson.truck.faults)
    needless = tuple(fault for _, fault in repairs if fault not in repaired)
    last = max((index for index, fault in repairs if fault in repaired), default=len(lesson.steps))
    path = lesson.steps[:last]
    return Verdict(
        hidden=lesson.hidden,
        repaired=tuple(fault.id for fault in lesson.hidden if fault.id in repaired),
        needless=needless,
        found=repaired == hidden and not needless,
        readings=sum(step.kind == "reading" for step in path),
        minutes=minutes_spent(path),
        warnings=sum(bool(step.notes) for step in lesson.steps),
        best=best,
    )
