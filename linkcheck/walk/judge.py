"""Judging a walk: what the readings say by now, which check is next, and whether it is enough.

Single faults are weighed first. As soon as one leads, or none of them explains the readings, pairs with the leading
ones join as hypotheses, so that the choice of checks goes on until a second fault is unlikely too. "None of these"
rests on the misfit of what leads. A reading that all the others contradict is asked again before anything else.

Enough is: nothing else is left that deserves belief, the explanation fits, and a reading that proves each fault was
taken and met its bounds. What no remaining check can split is named together, unconfirmed.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from collections.abc import Set as AbstractSet
from dataclasses import dataclass, field, replace
from functools import lru_cache

import numpy as np
import numpy.typing as npt

from linkcheck.circuit import State
from linkcheck.diagnosis.belief import Belief, Weigher, log_prior_of
from linkcheck.diagnosis.likelihood import thin
from linkcheck.diagnosis.misfit import Misfit, misfit, with_unknown
from linkcheck.diagnosis.next_check import Chooser
from linkcheck.diagnosis.pairs import Pairs, pairs_with
from linkcheck.diagnosis.reading import Assumptions, Taken
from linkcheck.diagnosis.samples import Hypothesis, Samples, Table
from linkcheck.faults.catalogue import FAULTS
from linkcheck.faults.fault import Proof
from linkcheck.walk.checks import CHECKS
from linkcheck.walk.costs import minutes_for

__all__ = ["Judge", "Opinion", "Rules"]

FIRM, SHAKEN = 0.8, 0.5  # a reading that takes a leader from above the first to below the second is taken twice
PIVOTS, WEIGHTY = 2, 1.5  # readings taken twice at most for that; what they have to weigh, as a log likelihood ratio
# One look at each function before a walk ends, where none was taken: a second fault may be anywhere.
# The first of each is asked; any of them is a look.
SCREENS = (
    ("volts:B.wire-A.wire:plugged", "volts:battery_positive-B.wire:plugged", "volts:A.wire-battery_negative:plugged"),
    ("ohms:C-D:dead", "ohms:C.wire-D.wire:dead", "ohms:C-D:no_modules", "ohms:C-D:bare"),
    ("volts:F-G:key_on", "volts:F-A:key_on", "volts:F.wire-A:key_on", "ohms:F-G:dead"),
)
PLAUSIBLE = 3e-3  # hypotheses below this share of the leader's probability do not make a check worth while


@dataclass(frozen=True, slots=True)
class Rules:
    """When to go on and when to stop. Chosen by trial on simulated trucks of another make (see DEVELOPERS).

    Attributes:
        assumptions: how readings are weighed.
        lead: probability from which on pairs with a fault are considered.
        early: readings from which on the fit is watched, whatever leads.
        misfit: p-value below which single faults are not believed to explain.
        sure: probability at which nothing more is asked.
        proven: probability that each fault of a confirmed explanation has to have.
        fits: p-value that a confirmed explanation has to have.
        unknown: prior chance of a fault outside the catalogue.
        effort_minutes: added to each check's cost, so that cheap trifles are not preferred for ever.
        least_bits: expected information below which a check is not worth it.
        again: surprise below which a reading is asked again.
        alike_bits: information that a check has to promise about two suspects to be said to split them.

    """

    assumptions: Assumptions = field(default_factory=lambda: Assumptions(tolerance=1.5, pair=0.15))
    lead: float = 0.5
    early: int = 3
    misfit: float = 0.03
    sure: float = 0.97
    proven: float = 0.95
    fits: float = 0.2
    unknown: float = 0.02
    effort_minutes: float = 8.0
    least_bits: float = 0.2
    again: float = 0.01
    alike_bits: float = 0.1


@dataclass(frozen=True, eq=False)
class Opinion:
    """What is thought after some readings.

    Attributes:
        belief: with the share of "none of these".
        weigher, chooser: over the hypotheses of the belief.
        misfit: of the leader; None where it was not tested yet.
        next_check: id of the check to make; None where it is over.
        reason: "split" (information), "again" (contradiction), "proof", "due", "sweep",
            "pivot" (all hangs on one reading); and why it ended: "sure", "alike" (nothing splits what remains),
            "nothing left".
        alike: hypotheses that no remaining check splits from the leader.
        confirmed: the leader is proven.

    """

    belief: Belief
    weigher: Weigher
    chooser: Chooser
    misfit: Misfit | None
    next_check: str | None
    reason: str
    alike: tuple[Hypothesis, ...]
    confirmed: bool


@dataclass(frozen=True, eq=False, slots=True)
class _Case:
    """What the choice of the next check rests on."""

    belief: Belief
    weigher: Weigher
    chooser: Chooser
    misfit: Misfit | None
    readings: Sequence[Taken]
    possible: AbstractSet[str]
    left: Sequence[str]
    alike: Sequence[Hypothesis]


class Judge:
    """Judges readings against a table of predictions; values in, opinions out.

    Args:
        samples: predictions of single faults and the sound truck.
        odds: of those faults.
        rules: see there.
        system_volts: 12 or 24, for the bounds of proofs.

    """

    def __init__(
        self, samples: Samples, odds: Mapping[str, float], rules: Rules | None = None, system_volts: float = 12.0
    ) -> None:
        self.samples = samples
        self.odds = odds
        self.rules = rules or Rules()
        self.system_volts = system_volts
        self.weigher = Weigher(samples, self._log_prior(samples), self.rules.assumptions)
        self.chooser = Chooser(self.weigher)
        self._with_pairs = lru_cache(maxsize=12)(self._make_pairs)

    def opinion(
        self, readings: Sequence[Taken], state: State, allowed: Iterable[str], due: Sequence[str] = ()
    ) -> Opinion:
        """The opinion after these readings.

        Args:
            readings: in the order taken.
            state: that the truck is in.
            allowed: ids of the checks that may be asked.
            due: checks to make first, in order (after a repair).

        """
        belief, weigher, chooser, fit = self._assess(readings)
        read = {reading.check for reading in readings}
        possible = frozenset(allowed)
        left = self._telling(belief, weigher, sorted(possible - read), read)
        alike = self._alike(belief, chooser, left) if len(readings) >= self.rules.early else ()
        case = _Case(belief, weigher, chooser, fit, readings, possible, left, alike)
        check, reason = self._next(case, state, due)
        confirmed = check is None and not alike and self._proven(belief, fit, readings)
        return Opinion(belief, weigher, chooser, fit, check, reason, alike, confirmed)

    # What the readings say -------------------------------------------------------------------------------------

    def _assess(self, readings: Sequence[Taken]) -> tuple[Belief, Weigher, Chooser, Misfit | None]:
        rules, weigher, chooser = self.rules, self.weigher, self.chooser
        belief = weigher.belief(readings)
        leads = belief.probability(belief.leader) >= rules.lead
        if not readings or not (leads or len(readings) >= rules.early):
            return belief, weigher, chooser, None
        fit = misfit(weigher, readings, belief.leader)
        faults = set(belief.leader) if leads else set()
        if fit.p_value < rules.misfit:
            faults |= {fault for which in belief.ranking[:3] for fault in which}
        if faults:
            weigher, chooser = self._with_pairs(tuple(sorted(faults)))
            belief = weigher.belief(readings)
            fit = misfit(weigher, readings, belief.leader)
        return with_unknown(belief, [fit], rules.unknown), weigher, chooser, fit

    def _make_pairs(self, faults: tuple[str, ...]) -> tuple[Weigher, Chooser]:
        samples = Pairs(self.samples, pairs_with(self.samples, list(faults)))
        weigher = Weigher(samples, self._log_prior(samples), self.rules.assumptions)
        return weigher, Chooser(weigher)

    def _log_prior(self, samples: Table) -> npt.NDArray[np.float64]:
        return log_prior_of(self.odds, samples.hypotheses, self.rules.assumptions.pair)

    def _alike(self, belief: Belief, chooser: Chooser, left: Sequence[str]) -> tuple[Hypothesis, ...]:
        """Suspects that nothing left splits from the leader, where they are all that stands in its way."""
        leader = belief.leader
        if not 0.2 < belief.probability(leader) < self.rules.sure:
            return ()
        found = []
        for other in belief.ranking[1:6]:
            if set(other) > set(leader) and leader:
                continue  # the leader with a second fault hidden behind it
            if belief.probability(other) < 1.0 - self.rules.sure:
                break
            if all(_split_bits(chooser, belief, check, leader, other) < self.rules.alike_bits for check in left):
                found.append(other)
        return tuple(found)

    # What to do ------------------------------------------------------------------------------------------------

    def _next(self, case: _Case, state: State, due: Sequence[str]) -> tuple[str | None, str]:
        """The check to make and why, or None and why not."""
        rules, belief = self.rules, case.belief
        if due:
            return due[0], "due"
        counts = Counter(reading.check for reading in case.readings)
        if case.misfit is not None:
            doubtful = case.misfit.contradictions(rules.again)
            again = next((check for check in doubtful if counts[check] == 1 and check in case.possible), None)
            again = again or self._overturned(case, counts)
            if again is not None:
                return again, "again"
        free = sorted(check for check in case.possible if not counts[check])
        minutes = {check: minutes_for(CHECKS[check], state) + rules.effort_minutes for check in free}
        proofs = [] if case.alike else self._open_proofs(belief, case.readings, minutes)
        proof = min(proofs, key=lambda check: minutes[check], default=None)
        settled = belief.probability(belief.leader) + sum(belief.probability(which) for which in case.alike)
        if settled < rules.sure:
            ranked = case.chooser.rank(belief, {check: minutes[check] for check in case.left})
            worthy = next((choice.check for choice in ranked if choice.bits >= rules.least_bits), None)
            if worthy is not None:
                return worthy, "split"
        last = (
            (proof, "proof"),
            (_unscreened(counts, minutes) if belief.leader else None, "sweep"),
            (None if settled >= rules.sure else self._pivot(case, counts), "pivot"),
        )
        for check, reason in last:
            if check is not None:
                return check, reason
        return None, "alike" if case.alike else "sure" if settled >= rules.sure else "nothing left"

    def _overturned(self, case: _Case, counts: Counter[str]) -> str | None:
        """The last check, where its one reading threw over what was as good as sure: a slip would do just that."""
        if len(case.readings) <= self.rules.early:
            return None
        last = case.readings[-1].check
        before = case.weigher.belief(case.readings[:-1])
        thrown = before.probability(before.leader) >= FIRM and case.belief.probability(before.leader) < SHAKEN
        return last if thrown and counts[last] == 1 and last in case.possible else None

    def _pivot(self, case: _Case, counts: Counter[str]) -> str | None:
        """The reading on which the choice between the first two hangs, to be taken once more; rarely."""
        belief = case.belief
        if sum(count > 1 for count in counts.values()) >= PIVOTS or len(belief.ranking) < 2:
            return None
        rows = [belief.samples.row(which) for which in belief.ranking[:2]]
        weight = {check: abs(float(adds[rows[0]] - adds[rows[1]])) for check, adds in belief.adds.items()}
        open_ones = [check for check in weight if counts[check] == 1 and check in case.possible]
        check = max(open_ones, key=lambda name: weight[name], default=None)
        return check if check is not None and weight[check] > WEIGHTY else None

    def _telling(self, belief: Belief, weigher: Weigher, left: Sequence[str], read: AbstractSet[str]) -> list[str]:
        """Checks that do not merely repeat one that was made: C to chassis after C to A, with a good ground."""
        rows = np.flatnonzero(belief.probabilities >= PLAUSIBLE * belief.probabilities.max())
        return [check for check in left if not any(_repeats(belief, weigher, check, other, rows) for other in read)]

    def _open_proofs(self, belief: Belief, readings: Sequence[Taken], minutes: Mapping[str, float]) -> list[str]:
        """Checks that would go on to prove a fault that is not proven yet, or show why it came about."""
        read = {reading.check for reading in readings}
        proofs = []
        for fault in belief.leader or ("none",):
            if belief.of_fault[fault] >= self.rules.lead and not self.proven_by(fault, readings):
                for together in FAULTS[fault].proof:
                    missing = [proof for proof in together if proof.check not in read]
                    if all(proof in missing or self.met(proof, readings) for proof in together):
                        proofs += [proof.check for proof in missing if proof.check in minutes]
        return proofs or _open_roots(belief.leader, read, minutes)

    def met(self, proof: Proof, readings: Sequence[Taken]) -> Taken | None:
        """The reading that meets a proof, if any; of a check read more than once, the last."""
        last = {reading.check: reading for reading in readings}
        reading = last.get(proof.check)
        return reading if reading is not None and proof.met(reading.value, self.system_volts) else None

    def proven_by(self, fault: str, readings: Sequence[Taken]) -> tuple[Taken, ...]:
        """The readings that prove a fault together; none where it is not proven."""
        for together in FAULTS[fault].proof:
            found = [self.met(proof, readings) for proof in together]
            if all(found):
                return tuple(reading for reading in found if reading is not None)
        return ()

    def _proven(self, belief: Belief, fit: Misfit | None, readings: Sequence[Taken]) -> bool:
        """The leader fits, each of its faults is as good as sure, and a proof of each was met.

        A further fault behind them may remain possible: it shows itself after the repair.
        """
        share = min((belief.of_fault[fault] for fault in belief.leader or ("none",)), default=0.0)
        return (
            fit is not None
            and share >= self.rules.proven
            and fit.p_value >= self.rules.fits
            and all(self.proven_by(fault, readings) for fault in belief.leader or ("none",))
        )


def _unscreened(read: Counter[str], minutes: Mapping[str, float]) -> str | None:
    """A look at a function that no meter has looked at yet."""
    return next((looks[0] for looks in SCREENS if not any(read[look] for look in looks) and looks[0] in minutes), None)


def _open_roots(leader: Hypothesis, read: AbstractSet[str], minutes: Mapping[str, float]) -> list[str]:
    """Checks not made yet that would show a fault behind the one that was found: why a fuse blew."""
    causes = [cause for fault in leader for cause in FAULTS[fault].causes if cause.fault not in (None, *leader)]
    return [
        cause.check
        for cause in causes
        if cause.check is not None and cause.check in minutes and cause.check not in read
    ]


def _repeats(belief: Belief, weigher: Weigher, check: str, other: str, rows: npt.NDArray[np.intp]) -> bool:
    """Whatever is likely is true: both would read alike, so that the second tells nothing that the first did not."""
    one, two = CHECKS[check], CHECKS[other]
    if (one.quantity, one.state) != (two.quantity, two.state) or one.quantity not in ("dc_volts", "ohms"):
        return False
    apart = np.abs(weigher.column(check).some_places(rows) - weigher.column(other).some_places(rows))
    weights = belief.weights.get(one.subsystem)
    if weights is None:
        return bool(apart.mean(axis=1).max() < 1.0)
    shares = thin(weights)[rows]
    likely = (shares * apart).sum(axis=1) / shares.sum(axis=1)
    return bool(likely.max() < 1.0)


def _split_bits(chooser: Chooser, belief: Belief, check: str, one: Hypothesis, other: Hypothesis) -> float:
    """Expected information of a check about which of two it is, were they equally likely and all there is."""
    shares = np.zeros_like(belief.probabilities)
    shares[[belief.samples.row(one), belief.samples.row(other)]] = 0.5
    return chooser.bits(replace(belief, probabilities=shares), check)
