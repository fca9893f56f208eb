"""Does an explanation explain? A test of one hypothesis against all readings together, and against each of them.

Posterior predictive check (Rubin 1984; Gelman, Meng and Stern 1996): trucks of the hypothesis are made to give
readings of the same checks, with the meter, the discrepancy and the slips that the likelihood assumes; the p-value is
the share of them whose readings are at least as unlikely as the real ones, taken together or by the worst one.

A small p-value cannot say what else it is, only that something else deserves belief. How much: the bound of Sellke,
Bayarri and Berger ("Calibration of p values for testing precise null hypotheses", The American Statistician 55,
2001): against the best alternative, p weighs -e p ln p.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import numpy.typing as npt

from linkcheck.diagnosis.belief import Belief, Weigher
from linkcheck.diagnosis.likelihood import Column
from linkcheck.diagnosis.reading import Assumptions, Taken
from linkcheck.diagnosis.samples import Hypothesis

__all__ = ["Misfit", "bayes_bound", "misfit", "with_unknown"]

Array = npt.NDArray[Any]

REPLICAS = 200
TAIL = 0.1  # of the replicas, from which on the share of worse ones is extrapolated
SAME = 1e-6  # scores this close are the same
SEED = 20_180_601  # the same readings always give the same p-value


@dataclass(frozen=True)
class Misfit:
    """How a hypothesis fits.

    Attributes:
        which: the hypothesis.
        p_value: share of its own trucks that read at least as unlikely: all readings together, or the worst of them.
        surprise: check to share of its own trucks whose reading there would be at least as unlikely, given that they
            read like the real one everywhere else in the subsystem.

    """

    which: Hypothesis
    p_value: float
    surprise: dict[str, float]

    def contradictions(self, below: float) -> tuple[str, ...]:
        """Checks whose reading speaks against all the others, the worst first."""
        return tuple(check for check, p in sorted(self.surprise.items(), key=lambda item: item[1]) if p < below)


def bayes_bound(p_value: float) -> float:
    """Least Bayes factor of a hypothesis against the best alternative, by its p-value; 1 from 1/e on."""
    return float(-np.e * p_value * np.log(p_value)) if 0.0 < p_value < 1.0 / np.e else float(p_value > 0.0)


def with_unknown(belief: Belief, misfits: Sequence[Misfit], unknown: float) -> Belief:
    """The belief with a share for a fault that is none of those known, as the misfits demand.

    Args:
        belief: without that share.
        misfits: of the hypotheses that hold most of the belief, at least one; the others are taken to fit as well as
            the best of these, as they explain the readings worse.
        unknown: prior chance of such a fault.

    """
    fit = np.full(len(belief.probabilities), max(bayes_bound(each.p_value) for each in misfits))
    for each in misfits:
        fit[belief.samples.row(each.which)] = bayes_bound(each.p_value)
    known = (1.0 - unknown) * float((belief.probabilities * fit).sum())
    share = unknown / (unknown + known)
    return replace(belief, probabilities=belief.probabilities * (1.0 - share), none_of_these=share)


def misfit(weigher: Weigher, readings: Sequence[Taken], which: Hypothesis) -> Misfit:
    """Test a hypothesis against the readings."""
    row = weigher.samples.row(which)
    by_subsystem: dict[str, list[_Point]] = defaultdict(list)
    for point in _points(weigher, readings, row):
        by_subsystem[point.column.observable.subsystem].append(point)
    total, worst, surprise = np.zeros(1 + REPLICAS), np.zeros(1 + REPLICAS), {}
    for subsystem, points in sorted(by_subsystem.items()):
        logs = _log_fits(points, weigher.assumptions, subsystem)  # [points, 1 + REPLICAS, trucks]
        together = logs.sum(axis=0)
        joint = _log_mean(together)
        total += joint
        for each, point in zip(logs, points, strict=True):
            adds = joint - _log_mean(together - each)
            surprise[point.check] = _share_below(adds)
            worst = np.minimum(worst, adds)
    # Many readings a little off, or one far off: two looks at the same readings, so twice the smaller share.
    return Misfit(which, min(1.0, 2.0 * min(_share_below(total), _share_below(worst))), surprise)


@dataclass(frozen=True, eq=False)
class _Point:
    """A check's readings as one, on its axis, and the hypothesis's trucks there."""

    check: str
    column: Column
    place: float
    spread: float
    slip: float
    places: Array  # [trucks]


def _points(weigher: Weigher, readings: Sequence[Taken], row: int) -> list[_Point]:
    """One point a check. Of readings that disagree, the group that most of them support counts, or the best fit."""
    taken: dict[str, list[Taken]] = defaultdict(list)
    for reading in readings:
        taken[reading.check].append(reading)
    found = []
    for check, repeats in sorted(taken.items()):
        column = weigher.column(check)
        places = column.some_places(np.array([row]))[0]
        spots = [column.place(reading) for reading in repeats]
        groups = [[other for other in spots if _near(spot, other)] for spot in spots]
        best = max(groups, key=lambda group: (len(group), float(column.fit(group[0][0], group[0][1], places).mean())))
        place = float(np.mean([spot for spot, _ in best]))
        slip = weigher.assumptions.slip ** len(best)
        found.append(_Point(check, column, place, max(spread for _, spread in best), slip, places))
    return found


def _near(a: tuple[float, float], b: tuple[float, float]) -> bool:
    return a[0] == b[0] or abs(a[0] - b[0]) < 3.0 * max(a[1], b[1])


def _log_fits(points: Sequence[_Point], assumptions: Assumptions, subsystem: str) -> Array:
    """Log likelihood of the real readings (first) and of the made ones, on every truck: [points, 1 + replicas, N].

    A replica's own truck does not vouch for it.
    """
    rng = np.random.default_rng([SEED, sum(subsystem.encode())])
    size = len(points[0].places)
    truth = rng.integers(0, size, REPLICAS)
    itself = (1 + np.arange(REPLICAS), truth)
    found = np.empty((len(points), 1 + REPLICAS, size), np.float32)
    for k, point in enumerate(points):
        source = np.where(rng.random(REPLICAS) < assumptions.redraw, rng.integers(0, size, REPLICAS), truth)
        made = _made(rng, point, point.places[source])
        spots = np.concatenate([[point.place], made]).astype(np.float32)[:, None]
        fit = point.column.fit(spots, point.spread, point.places[None, :])
        mean = fit.mean(axis=1, keepdims=True)
        fit[itself] = mean[1:, 0]
        fit = (1.0 - assumptions.redraw) * fit + assumptions.redraw * mean
        found[k] = np.log((1.0 - point.slip) * fit + point.slip * point.column.slip(spots))
    return found


def _made(rng: np.random.Generator, point: _Point, places: Array) -> Array:
    """Readings of trucks at these places, with discrepancy and slips."""
    column, count = point.column, len(places)
    if column.observable.quantity == "category":
        chances = column.confusion()[places].cumsum(axis=1)
        answers: Array = (rng.random(count)[:, None] > chances).sum(axis=1)
        wild: Array = rng.integers(0, len(column.observable.categories), count)
    else:
        answers = places + point.spread * rng.standard_t(4, count)
        answers = np.where(answers > column.over, np.inf, answers)
        wild = rng.uniform(column.ends[0], column.ends[1], count)
    return np.where(rng.random(count) < point.slip, wild, answers).astype(np.float64)


def _share_below(scores: Array) -> float:
    """Share of the made scores at or below the real one, which is the first; below a tenth by an exponential tail.

    Peaks over threshold: beyond a high threshold an excess is nearly exponential for all but heavy tails (Pickands,
    "Statistical inference using extreme order statistics", The Annals of Statistics 3, 1975).
    """
    real, made = float(scores[0]) + SAME, scores[1:]
    threshold = float(np.quantile(made, TAIL))
    if real >= threshold:
        return float(np.mean(made <= real))
    excess = threshold - made[made < threshold]
    return TAIL * float(np.exp(-(threshold - real) / max(float(excess.mean()) if len(excess) else 0.0, SAME)))


def _log_mean(logs: Array) -> Array:
    top = logs.max(axis=-1, keepdims=True)
    return np.asarray(np.log(np.exp(logs - top).mean(axis=-1)) + top[..., 0])
