"""What the readings say: probabilities of every fault, of a sound truck, and of a fault that is none of those known.

Bayes over hypotheses. Readings of one subsystem are weighed on the same sampled truck, so that what they have in
common (the same battery, the same terminators, the same severity) counts; subsystems are independent given the
fault. Whatever the order of the readings, the result is the same, because it is always worked out from all of them.

"None of these" does not compete by likelihood, where a vague hypothesis always loses: it takes the share that the
misfit of the explanations found leaves it (`misfit`).
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
import numpy.typing as npt

from linkcheck.diagnosis.likelihood import Column
from linkcheck.diagnosis.reading import Assumptions, Taken
from linkcheck.diagnosis.samples import SOUND, Hypothesis, Samples
from linkcheck.diagnosis.scale import HIGH_OHMS

__all__ = ["Belief", "Weigher"]

Array = npt.NDArray[Any]


@dataclass(frozen=True, eq=False)
class Belief:
    """The belief after some readings.

    Attributes:
        samples: the table it rests on.
        readings: all of them, in the order taken.
        probabilities: float64[H], of the table's hypotheses; they and `none_of_these` add up to one.
        none_of_these: probability of a fault outside the table.
        weights: subsystem to float64[H, N], how well each truck fits the subsystem's readings (sum one each row).
        adds: check to float64[H], what its readings add to the log likelihood, given all others.
        prior: float64[H], log prior the belief started from.

    """

    samples: Samples
    readings: tuple[Taken, ...]
    probabilities: Array
    none_of_these: float
    weights: Mapping[str, Array]
    adds: Mapping[str, Array]
    prior: Array

    def probability(self, which: Hypothesis) -> float:
        """Of exactly these faults."""
        return float(self.probabilities[self.samples.row(which)])

    @cached_property
    def ranking(self) -> tuple[Hypothesis, ...]:
        """Hypotheses, most certain first."""
        return tuple(self.samples.hypotheses[k] for k in np.argsort(-self.probabilities, kind="stable"))

    @property
    def leader(self) -> Hypothesis:
        """The most certain hypothesis."""
        return self.ranking[0]

    @cached_property
    def of_fault(self) -> dict[str, float]:
        """Probability of each fault, alone or with another, most certain first; "none" for a sound truck."""
        total: dict[str, float] = defaultdict(float)
        for which, share in zip(self.samples.hypotheses, self.probabilities, strict=True):
            for fault in which or ("none",):
                total[fault] += float(share)
        return dict(sorted(total.items(), key=lambda item: -item[1]))

    @property
    def entropy_bits(self) -> float:
        """How undecided it is."""
        shares = np.append(self.probabilities, self.none_of_these)
        shares = shares[shares > 0.0]
        return float(-(shares * np.log2(shares)).sum())


class Weigher:
    """Weighs readings against a table; keeps what it has worked out for each check and each set of its readings.

    Args:
        samples: the predictions.
        log_prior: float[H]; need not add up to one.
        assumptions: how readings are weighed.
        base: of the table that `samples` was made from by adding rows, to take over what it has worked out.

    """

    def __init__(
        self,
        samples: Samples,
        log_prior: Array,
        assumptions: Assumptions | None = None,
        base: Weigher | None = None,
    ) -> None:
        self.samples = samples
        self._base = base
        self.assumptions = assumptions or Assumptions()
        self.log_prior = log_prior - _log_sum(log_prior, axis=0)
        self._columns: dict[str, Column] = {}
        self._weighed: dict[tuple[Taken, ...], Array] = {}

    def column(self, check: str) -> Column:
        """A check's predictions on its axis."""
        if check not in self._columns:
            known = self._base.column(check).places if self._base else None
            self._columns[check] = Column(self.samples, check, self.assumptions, known)
        return self._columns[check]

    def belief(self, readings: Sequence[Taken]) -> Belief:
        """The belief after these readings, misfit not yet counted.

        Raises:
            DataError: a reading does not fit its check, or there is no such check.

        """
        shape = self.samples.values.shape[0], self.samples.trucks
        log_likelihood = np.zeros(shape[0])
        weights, adds = {}, {}
        for subsystem, checks in self._by_subsystem(readings).items():
            logs = np.stack([power * self._log_weighed(taken) for taken, power in checks.values()])
            together = logs.sum(axis=0)
            mean = _log_mean(together)
            for k, check in enumerate(checks):
                adds[check] = self.assumptions.temper * (mean - _log_mean(together - logs[k]))
            log_likelihood += self.assumptions.temper * mean
            share = np.exp(together - together.max(axis=1, keepdims=True))
            weights[subsystem] = share / share.sum(axis=1, keepdims=True)
        log_posterior = self.log_prior + log_likelihood
        probabilities = np.exp(log_posterior - _log_sum(log_posterior, axis=0))
        return Belief(self.samples, tuple(readings), probabilities, 0.0, weights, adds, self.log_prior)

    def _log_weighed(self, taken: tuple[Taken, ...]) -> Array:
        if taken not in self._weighed:
            self._weighed[taken] = np.log(self.column(taken[0].check).weigh(taken))
        return self._weighed[taken]

    def _by_subsystem(self, readings: Sequence[Taken]) -> dict[str, dict[str, tuple[tuple[Taken, ...], float]]]:
        """Subsystem to check to its readings and the power they count with."""
        repeats: dict[str, list[Taken]] = defaultdict(list)
        for reading in readings:
            repeats[reading.check].append(reading)
        alike: dict[str, int] = defaultdict(int)
        lines = {check: self._high_lines(check, taken) for check, taken in repeats.items()}
        for name in lines.values():
            alike[name] += 1
        found: dict[str, dict[str, tuple[tuple[Taken, ...], float]]] = defaultdict(dict)
        for check, taken in sorted(repeats.items()):
            power = 1.0 / alike[lines[check]] if lines[check] else 1.0
            found[self.column(check).observable.subsystem][check] = (tuple(taken), power)
        return found

    def _high_lines(self, check: str, taken: Sequence[Taken]) -> str:
        """The lines of a check that reads high ohms; empty where it counts by itself."""
        observable = self.column(check).observable
        high = observable.quantity == "ohms" and all(float(reading.value) >= HIGH_OHMS for reading in taken)
        return observable.lines if high else ""


def log_prior_of(odds: Mapping[str, float], hypotheses: Sequence[Hypothesis], pair: float) -> Array:
    """Log prior of hypotheses from the odds of single faults ("none" for a sound truck); not normalised.

    Two faults at once: one of the two by its odds, the other any of all, evenly, so that a truck with one fault has
    a second with odds of `pair`.
    """
    others = max(len(odds) - 2, 1)
    found = np.empty(len(hypotheses))
    for k, which in enumerate(hypotheses):
        weights = [odds[name] for name in which or ("none",)]
        found[k] = np.log(sum(weights)) + (len(weights) - 1) * np.log(pair / others)
    return found


def _log_sum(logs: Array, axis: int) -> Array:
    top = logs.max(axis=axis, keepdims=True)
    return np.asarray(np.log(np.exp(logs - top).sum(axis=axis)) + np.squeeze(top, axis))


def _log_mean(logs: Array) -> Array:
    """Log of the mean over trucks, float64[H]."""
    return np.asarray(_log_sum(logs, axis=1) - np.log(logs.shape[1]))


__all__ += ["SOUND", "log_prior_of"]
