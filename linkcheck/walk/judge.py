"""Judging a walk: what the readings say by now, which check is next, and whether it is enough.

Single faults are weighed first. As soon as one leads, or none of them explains the readings, pairs with the leading ones
join as hypotheses, so that the choice of checks goes on until a second fault is unlikely too. "None of these" rests on
the misfit of what leads. A reading that all the others contradict is asked again before anything else.

Enough is: nothing else is left that deserves belief, the explanation fits, and a reading that proves each fault was
taken and met its bounds. What no remaining check can split is named together, unconfirmed.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np

from linkcheck.circuit import State
from linkcheck.diagnosis.belief import Belief, Weigher, log_prior_of
from linkcheck.diagnosis.misfit import Misfit, misfit, with_unknown
from linkcheck.diagnosis.next_check import Chooser
from linkcheck.diagnosis.pairs import composed, pairs_with
from linkcheck.diagnosis.reading import Assumptions, Taken
from linkcheck.diagnosis.samples import Hypothesis, Samples
from linkcheck.faults.catalogue import FAULTS
from linkcheck.faults.fault import Proof
from linkcheck.walk.checks import CHECKS
from linkcheck.walk.costs import minutes_for
from linkcheck.walk.volts_grid import VoltsChooser

__all__ = ["Judge", "Opinion", "Rules"]


@dataclass(frozen=True, slots=True)
class Rules:
    """When to go on and when to stop. Chosen by trial on simulated trucks of another make (see DEVELOPERS).

    Attributes:
        assumptions: how readings are weighed.
        lead: probability from which on pairs with a fault are considered.
        early: readings from which on the fit is watched, whatever leads.
        misfit: p-value below which single faults are not believed to explain.
        sure: probability at which nothing more is asked.
        fits: p-value that a confirmed explanation has to have.
        unknown: prior chance of a fault outside the catalogue.
        effort_minutes: added to each check's cost, so that cheap trifles are not preferred for ever.
        least_bits: expected information below which a check is not worth it.
        again: surprise below which a reading is asked again.
        alike_bits: information that a check has to promise about two suspects to be said to split them.

    """

    assumptions: Assumptions = Assumptions(tolerance=1.5, pair=0.15)
    lead: float = 0.5
    early: int = 3
    misfit: float = 0.03
    sure: float = 0.97
    fits: float = 0.05
    unknown: float = 0.01
    effort_minutes: float = 6.0
    least_bits: float = 0.03
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
        reason: "split" (information), "again" (contradiction), "proof", "due"; and why it ended: "sure", "alike"
            (nothing splits what remains), "nothing left".
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
        self.chooser: Chooser = VoltsChooser(self.weigher)
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
        counts = Counter(reading.check for reading in readings)
        left = [check for check in allowed if not counts[check]]
        alike = self._alike(belief, chooser, left) if len(readings) >= self.rules.early else ()
        check, reason = self._next(belief, chooser, fit, counts, left, alike, state, due)
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
        samples = composed(self.samples, pairs_with(self.samples, list(faults)))
        weigher = Weigher(samples, self._log_prior(samples), self.rules.assumptions)
        return weigher, VoltsChooser(weigher)

    def _log_prior(self, samples: Samples) -> np.ndarray:
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
            if belief.probability(other) < (1.0 - self.rules.sure) / 5.0:
                break
            if all(_split_bits(chooser, belief, check, leader, other) < self.rules.alike_bits for check in left):
                found.append(other)
        return tuple(found)

    # What to do ------------------------------------------------------------------------------------------------

    def _next(
        self,
        belief: Belief,
        chooser: Chooser,
        fit: Misfit | None,
        counts: Counter[str],
        left: Sequence[str],
        alike: Sequence[Hypothesis],
        state: State,
        due: Sequence[str],
    ) -> tuple[str | None, str]:
        rules = self.rules
        if due:
            return due[0], "due"
        if fit is not None:
            doubtful = [check for check in fit.contradictions(rules.again) if counts[check] == 1]
            if doubtful:
                return doubtful[0], "again"
        minutes = {check: minutes_for(CHECKS[check], state) + rules.effort_minutes for check in left}
        settled = belief.probability(belief.leader) + sum(belief.probability(which) for which in alike)
        proofs = [] if alike else self._open_proofs(belief, counts, minutes)
        if settled >= rules.sure:
            if proofs:
                return min(proofs, key=lambda check: minutes[check]), "proof"
            return None, "alike" if alike else "sure"
        ranked = chooser.rank(belief, minutes)
        worthy = [choice for choice in ranked if choice.bits >= rules.least_bits]
        if worthy:
            return worthy[0].check, "split"
        return (min(proofs, key=lambda check: minutes[check]), "proof") if proofs else (None, "nothing left")

    def _open_proofs(self, belief: Belief, counts: Counter[str], minutes: Mapping[str, float]) -> list[str]:
        """Checks that would prove a fault of which no proof was read yet, or show why it came about."""
        proofs = [
            proof.check
            for fault in belief.leader or ("none",)
            if belief.of_fault[fault] >= self.rules.lead
            and not any(counts[proof.check] for proof in FAULTS[fault].proof)
            for proof in FAULTS[fault].proof
            if proof.check in minutes
        ]
        return proofs or _open_roots(belief.leader, counts, minutes)

    def met(self, proof: Proof, readings: Sequence[Taken]) -> Taken | None:
        """The reading that meets a proof, if any; of a check read more than once, the last."""
        last = {reading.check: reading for reading in readings}
        reading = last.get(proof.check)
        return reading if reading is not None and proof.met(reading.value, self.system_volts) else None

    def _proven(self, belief: Belief, fit: Misfit | None, readings: Sequence[Taken]) -> bool:
        """The leader fits, each of its faults is as good as sure, and a proof of each was met.

        A further fault behind them may remain possible: it shows itself after the repair.
        """
        share = min((belief.of_fault[fault] for fault in belief.leader or ("none",)), default=0.0)
        return (
            fit is not None
            and share >= self.rules.sure
            and fit.p_value >= self.rules.fits
            and all(
                any(self.met(proof, readings) for proof in FAULTS[fault].proof) for fault in belief.leader or ("none",)
            )
        )


def _open_roots(leader: Hypothesis, counts: Counter[str], minutes: Mapping[str, float]) -> list[str]:
    """Checks not made yet that would show a fault behind the one that was found: why a fuse blew."""
    causes = [cause for fault in leader for cause in FAULTS[fault].causes if cause.fault not in (None, *leader)]
    return [cause.check for cause in causes if cause.check in minutes and not counts[cause.check]]


def _split_bits(chooser: Chooser, belief: Belief, check: str, one: Hypothesis, other: Hypothesis) -> float:
    """Expected information of a check about which of two it is, were they equally likely and all there is."""
    shares = np.zeros_like(belief.probabilities)
    shares[[belief.samples.row(one), belief.samples.row(other)]] = 0.5
    return chooser.bits(replace(belief, probabilities=shares), check)
