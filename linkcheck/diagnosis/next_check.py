"""The next check: the one with the most expected information per minute.

Predictions are cut into bins of one unit of the reading's own axis (`scale`), which is as fine as the likelihood can
tell apart; coarser bins would merge 40 and 30 ohm. Expected information is the mutual information between the
hypothesis and the reading, slips and discrepancy included, with the trucks weighed by what was read before.

Costs come from the caller, in minutes: what has to be changed since the last check is the walk's business.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from linkcheck.diagnosis.belief import Belief, Weigher
from linkcheck.diagnosis.likelihood import Column, below, thin, thinning

__all__ = ["Choice", "Chooser", "Grid"]

Array = npt.NDArray[Any]

REACH = 4  # bins on each side of a prediction in which its reading may fall
PLAUSIBLE = 1e-3  # hypotheses below this share of the leader's probability do not count
TINY = np.float32(1e-12)
# Share of readings that fall into the prediction's own bin, the next one, ...; the rest could be anywhere.
KERNEL = np.diff(below(np.arange(REACH + 2) - 0.5)).astype(np.float32)


@dataclass(frozen=True, slots=True)
class Choice:
    """A check that could be next.

    Attributes:
        check: its id.
        bits: expected information about which hypothesis is true.
        minutes: its cost.
        worth: bits a minute.

    """

    check: str
    bits: float
    minutes: float
    worth: float


class Grid:
    """One check in bins, under some hypotheses.

    Args:
        column: the check.
        rows: int[R], which hypotheses.

    """

    def __init__(self, column: Column, rows: Array) -> None:
        chance = column.assumptions.slip
        self._keep = np.float32(1.0 - chance)
        self._confusion: Array | None = None
        places = column.some_places(rows)
        if column.observable.quantity == "category":
            self._confusion = column.confusion().astype(np.float32)
            self._bins = self._answers = len(self._confusion)
            bins, slip = places, column.slip(np.arange(self._bins))
        else:
            ohms = np.isfinite(column.over)
            origin = column.over + 0.5 if ohms else 0.0
            places = np.minimum(places - origin, REACH) if ohms else places
            bins = np.rint(places).astype(np.int64)
            first = int(bins.min()) - REACH
            bins = bins - first
            self._bins = int(bins.max()) + REACH + 1
            slip_at = np.arange(first, first + self._bins) + origin
            self._answers = self._bins
            if ohms and self._bins > -first:  # bins from 0 on are one answer: OL
                self._answers = max(1 - first, 1)
                slip_at = np.append(slip_at[: self._answers - 1], np.inf)
            slip = column.slip(slip_at)
        self._slip = (chance * slip).astype(np.float32)
        self._flat = bins + self._bins * np.arange(len(bins))[:, None]

    def answers(self, weights: Array) -> Array:
        """Chance of each answer, float32[R, answers]; weights, float64[R, trucks], add up to one in each row."""
        size = len(weights)
        shares = np.bincount(self._flat.ravel(), weights.ravel(), size * self._bins)
        shares = shares.reshape(size, self._bins).astype(np.float32)
        if self._confusion is not None:
            return np.asarray(self._keep * (shares @ self._confusion) + self._slip)
        spread = KERNEL[0] * shares
        for apart, share in enumerate(KERNEL[1:], 1):
            spread[:, apart:] += share * shares[:, :-apart]
            spread[:, :-apart] += share * shares[:, apart:]
        if self._answers < self._bins:
            spread[:, self._answers - 1] = spread[:, self._answers - 1 :].sum(axis=1)
        return np.asarray(self._keep * spread[:, : self._answers] + self._slip)


class Chooser:
    """Chooses among checks."""

    def __init__(self, weigher: Weigher) -> None:
        self.weigher = weigher

    def bits(self, belief: Belief, check: str) -> float:
        """Expected information of a check, in bits."""
        return self._bits(belief, check, *_plausible(belief.probabilities))

    def rank(self, belief: Belief, minutes: Mapping[str, float]) -> list[Choice]:
        """All checks with their expected information per minute, the best first.

        Args:
            belief: the belief so far.
            minutes: the checks that are allowed now, with what each would cost.

        """
        rows, shares = _plausible(belief.probabilities)
        found = []
        for check, cost in minutes.items():
            bits = self._bits(belief, check, rows, shares)
            found.append(Choice(check, bits, cost, bits / cost))
        return sorted(found, key=lambda choice: (-choice.worth, choice.check))

    def expected(self, belief: Belief, check: str) -> Array:
        """Chance of each answer under each hypothesis as the readings so far leave it: float64[H, answers]."""
        return self._answers(belief, check, np.arange(len(belief.probabilities)))

    def _answers(self, belief: Belief, check: str, rows: Array) -> Array:
        column = self.weigher.column(check)
        trucks = len(range(0, belief.samples.trucks, thinning(belief.samples.trucks)))
        weights = np.full((len(rows), trucks), 1.0 / trucks)
        if column.observable.subsystem in belief.weights:
            redraw = self.weigher.assumptions.redraw
            weights = redraw / trucks + (1.0 - redraw) * _even(thin(belief.weights[column.observable.subsystem])[rows])
        return Grid(column, rows).answers(weights)

    def _bits(self, belief: Belief, check: str, rows: Array, shares: Array) -> float:
        """Mutual information in bits; less where high ohms on the same lines were read, as they count as one."""
        answers = self._answers(belief, check, rows) + TINY
        given = (answers * np.log2(answers)).sum(axis=1, dtype=np.float64)
        either = shares @ answers
        bits = float(shares @ given - (either * np.log2(either)).sum())
        alike = set(belief.high_lines.get(self.weigher.column(check).observable.lines, ())) - {check}
        return max(bits, 0.0) / (1 + len(alike))


def _even(weights: Array) -> Array:
    """Weights that add up to one in each row."""
    return np.asarray(weights / weights.sum(axis=1, keepdims=True))


def _plausible(probabilities: Array) -> tuple[Array, Array]:
    rows = np.flatnonzero(probabilities >= PLAUSIBLE * probabilities.max())
    shares = probabilities[rows]
    return rows, shares / shares.sum()
