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
from linkcheck.diagnosis.samples import Hypothesis, Table
from linkcheck.diagnosis.scale import HIGH_OHMS

__all__ = ["Belief", "Evidence", "Weigher", "log_prior_of"]

Array = npt.NDArray[Any]


@dataclass(frozen=True, eq=False, slots=True)
class Evidence:
    """What the readings of one subsystem weigh.

    Attributes:
        logs: check to float64[H, N], log likelihood of its readings on each truck.
        log_mean: float64[H], log likelihood of all of them.
        temper: power to which it counts.

    """

    logs: Mapping[str, Array]
    log_mean: Array
    temper: float

    def adds(self, check: str) -> Array:
        """What a check's readings add to the log likelihood, given all the others: float64[H]."""
        others = [logs for name, logs in self.logs.items() if name != check]
        without = _mean_and_weights(_sum(others))[0] if others else 0.0
        return np.asarray(self.temper * (self.log_mean - without))


@dataclass(frozen=True, eq=False)
class Belief:
    """The belief after some readings.

    Attributes:
        samples: the table it rests on.
        readings: all of them, in the order taken.
        probabilities: float64[H], of the table's hypotheses; they and `none_of_these` add up to one.
        none_of_these: probability of a fault outside the table.
        weights: subsystem to float64[H, N], how well each truck fits the subsystem's readings (sum one each row).
        evidence: subsystem to what its readings weigh.
        high_lines: lines to the checks that read high ohms on them; these count as one.

    """

    samples: Table
    readings: tuple[Taken, ...]
    probabilities: Array
    none_of_these: float
    weights: Mapping[str, Array]
    evidence: Mapping[str, Evidence]
    high_lines: Mapping[str, tuple[str, ...]]

    @cached_property
    def adds(self) -> dict[str, Array]:
        """Check to float64[H], what its readings add to the log likelihood, given all others."""
        return {check: each.adds(check) for each in self.evidence.values() for check in each.logs}

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

    """

    def __init__(self, samples: Table, log_prior: Array, assumptions: Assumptions | None = None) -> None:
        self.samples = samples
        self.assumptions = assumptions or Assumptions()
        self.log_prior = np.log(_normal(log_prior))
        self._columns: dict[str, Column] = {}
        self._weighed: dict[tuple[Taken, ...], Array] = {}

    def column(self, check: str) -> Column:
        """A check's predictions on its axis."""
        if check not in self._columns:
            self._columns[check] = Column(self.samples, check, self.assumptions)
        return self._columns[check]

    def belief(self, readings: Sequence[Taken]) -> Belief:
        """The belief after these readings, misfit not yet counted.

        Raises:
            DataError: a reading does not fit its check, or there is no such check.

        """
        taken: dict[str, list[Taken]] = defaultdict(list)
        for reading in readings:
            taken[reading.check].append(reading)
        logs = {check: self._log_weighed(tuple(taken[check])) for check in sorted(taken)}
        high_lines = self._high_lines(taken)
        by_subsystem: dict[str, dict[str, Array]] = defaultdict(dict)
        for check, each in logs.items():
            observable = self.column(check).observable
            alike = high_lines.get(observable.lines, ())
            by_subsystem[observable.subsystem][check] = each / len(alike) if check in alike else each
        log_posterior = self.log_prior.copy()
        weights, evidence = {}, {}
        for subsystem, checks in by_subsystem.items():
            mean, weights[subsystem] = _mean_and_weights(_sum(list(checks.values())))
            evidence[subsystem] = Evidence(checks, mean, self.assumptions.temper)
            log_posterior += self.assumptions.temper * mean
        return Belief(self.samples, tuple(readings), _normal(log_posterior), 0.0, weights, evidence, high_lines)

    def _log_weighed(self, taken: tuple[Taken, ...]) -> Array:
        if taken not in self._weighed:
            self._weighed[taken] = np.log(self.column(taken[0].check).weigh(taken))
        return self._weighed[taken]

    def _high_lines(self, taken: Mapping[str, Sequence[Taken]]) -> dict[str, tuple[str, ...]]:
        """Lines to the checks that read high ohms on them."""
        found: dict[str, tuple[str, ...]] = {}
        for check, readings in sorted(taken.items()):
            observable = self.column(check).observable
            high = observable.quantity == "ohms" and all(float(reading.value) >= HIGH_OHMS for reading in readings)
            if high and observable.lines:
                found[observable.lines] = (*found.get(observable.lines, ()), check)
        return found


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


def _normal(logs: Array) -> Array:
    """Probabilities from their logs, which need not add up to one."""
    shares = np.exp(logs - logs.max())
    return np.asarray(shares / shares.sum())


def _sum(arrays: Sequence[Array]) -> Array:
    """Sum of arrays of one shape, in their order."""
    total = arrays[0].copy()
    for each in arrays[1:]:
        total += each
    return total


def _mean_and_weights(logs: Array) -> tuple[Array, Array]:
    """Log of the mean likelihood over trucks, float64[H], and each truck's share in it, float64[H, N]."""
    top = logs.max(axis=1, keepdims=True)
    shares = np.exp(logs - top)
    total = shares.sum(axis=1, keepdims=True)
    return np.log(total[:, 0] / logs.shape[1]) + top[:, 0], shares / total
