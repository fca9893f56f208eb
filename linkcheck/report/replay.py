"""A job's walk gone through again, reading by reading: rounds, the belief after each, and what each round found.

Everything follows from the job's events and the table of predictions, so the same job gives the same report.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

from linkcheck.diagnosis.reading import Taken
from linkcheck.diagnosis.samples import Hypothesis
from linkcheck.faults.catalogue import FAULTS
from linkcheck.jobs.events import Entry, WalkEvent
from linkcheck.jobs.record import WalkPart
from linkcheck.jobs.session import Session
from linkcheck.jobs.walk_file import NoRecord
from linkcheck.pinout import Pinout
from linkcheck.report.content import BeliefStep, Suspect
from linkcheck.walk.checks import CHECKS
from linkcheck.walk.engine import Walk
from linkcheck.walk.layout import Layout
from linkcheck.walk.messages import Answer, Finding, Repaired
from linkcheck.walk.reasons import check_words, figure_words, title

__all__ = ["Replay", "RoundResult", "replay"]

SHOWN = 6  # suspects kept of each step
LEAST_SHARE = 0.01


@dataclass
class RoundResult:
    """What lies between repairs.

    Attributes:
        readings: entry and reading, in order.
        leader: the hypothesis that led at the end.
        finding: at the end.
        proof: readings that prove the leader together; none where it is not proven.
        repaired: faults repaired afterwards; none in the last round.

    """

    readings: list[tuple[Entry, Taken]] = field(default_factory=list)
    leader: Hypothesis = ()
    finding: Finding | None = None
    proof: tuple[Taken, ...] = ()
    repaired: tuple[str, ...] = ()


@dataclass(frozen=True)
class Replay:
    """A walk gone through.

    Attributes:
        pinout, layout: the connector's.
        walk: at its end.
        rounds: at least one.
        belief: after each reading.

    """

    pinout: Pinout
    layout: Layout
    walk: Walk
    rounds: list[RoundResult]
    belief: list[BeliefStep]

    @property
    def repaired(self) -> tuple[str, ...]:
        """Faults that were repaired, in order."""
        return tuple(fault for each in self.rounds for fault in each.repaired)

    def proofs_after(self) -> list[tuple[str, Taken | None]]:
        """For each reading that shows the last repair to be good: the check, and the reading where it was met."""
        if len(self.rounds) < 2:
            return []
        readings = [taken for _, taken in self.rounds[-1].readings]
        asked = {check.id for check in self.layout.checks(by_eye=self.walk.setup.by_eye, looks=self.walk.setup.looks)}
        proofs = [proof for fault in self.rounds[-2].repaired for proof in FAULTS[fault].after if proof.check in asked]
        return [(proof.check, self.walk.judge.met(proof, readings)) for proof in proofs]


def replay(part: WalkPart) -> Replay:
    """Go through a walk.

    Raises:
        DataError, UsageError: its pinout cannot be used, or an event has no place.

    """
    session = Session(part.setup, (), NoRecord(), part.causes)
    session.settle()
    rounds: list[RoundResult] = [RoundResult()]
    belief: list[BeliefStep] = []
    for entry in part.entries:
        if isinstance(entry.event, Repaired):
            _close(rounds[-1], session.walk)
            rounds[-1].repaired = tuple(fault for fault in entry.event.faults if fault in FAULTS)
            rounds.append(RoundResult())
        assert isinstance(entry.event, WalkEvent)  # noqa: S101  a walk's part holds nothing else
        session.take(entry.event)
        if isinstance(entry.event, Answer):
            taken = session.walk.now.readings[-1]
            rounds[-1].readings.append((entry, taken))
            belief.append(_step(session.walk, len(belief) + 1, taken, len(rounds) - 1))
    _close(rounds[-1], session.walk)
    return Replay(session.pinout, session.walk.layout, session.walk, rounds, belief)


def _close(result: RoundResult, walk: Walk) -> None:
    result.finding = walk.finding
    result.leader = walk.opinion.belief.leader
    readings = [taken for _, taken in result.readings]
    proven = [reading for fault in result.leader or ("none",) for reading in walk.judge.proven_by(fault, readings)]
    result.proof = tuple(dict.fromkeys(proven))


def _step(walk: Walk, number: int, taken: Taken, round_number: int) -> BeliefStep:
    check = CHECKS[taken.check]
    words = f"{check_words(check, walk.layout)}: {figure_words(taken.value, check.quantity)}"
    return BeliefStep(number, words, round_number, list(_suspects(walk)), walk.suspects.none_of_these)


def _suspects(walk: Walk) -> Iterator[Suspect]:
    shares = list(walk.opinion.belief.of_fault.items())[:SHOWN]
    for fault, share in shares:
        if share >= LEAST_SHARE:
            yield Suspect(walk.layout.named(fault), title((fault,), walk.layout), round(share, 4))
