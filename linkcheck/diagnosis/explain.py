"""For and against: what each reading says for a suspect beside the best of the others. Figures only; words are
elsewhere.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from linkcheck.diagnosis.belief import Belief, Weigher
from linkcheck.diagnosis.reading import Taken
from linkcheck.diagnosis.samples import Hypothesis
from linkcheck.errors import DataError

__all__ = ["Argument", "arguments", "band", "rival"]


@dataclass(frozen=True, slots=True)
class Argument:
    """One check's readings as an argument for or against a suspect.

    Attributes:
        check: id.
        readings: what was read, in order.
        expected: what the suspect would make it read in nineteen of twenty trucks; None for categories.
        usual: category that most of the suspect's trucks show; None for figures.
        weight: log likelihood ratio of the suspect against its rival, given all other readings. Above zero it speaks
            for the suspect. 2.3 is ten to one.

    """

    check: str
    readings: tuple[Taken, ...]
    expected: tuple[float, float] | None
    usual: str | None
    weight: float


def rival(belief: Belief, suspect: Hypothesis) -> Hypothesis:
    """The best explanation beside a suspect."""
    return next(which for which in belief.ranking if which != suspect)


def arguments(
    weigher: Weigher, belief: Belief, suspect: Hypothesis, against: Hypothesis | None = None
) -> list[Argument]:
    """All readings as arguments, the weightiest first.

    Args:
        weigher: of the belief.
        belief: after the readings.
        suspect: whose case it is.
        against: the other explanation; the best one beside the suspect where not given.

    """
    row, other = belief.samples.row(suspect), belief.samples.row(against or rival(belief, suspect))
    found = []
    for check, adds in belief.adds.items():
        taken = tuple(reading for reading in belief.readings if reading.check == check)
        expected, usual = None, None
        if weigher.column(check).observable.quantity == "category":
            usual = _usual(weigher, suspect, check)
        else:
            expected = band(weigher, suspect, check)
        found.append(Argument(check, taken, expected, usual, float(adds[row] - adds[other])))
    return sorted(found, key=lambda argument: -abs(argument.weight))


def band(weigher: Weigher, which: Hypothesis, check: str, share: float = 0.95) -> tuple[float, float]:
    """Lowest and highest that a check reads on this share of a hypothesis's trucks, in volts or ohms.

    The discrepancy is included. The sound truck's band is the one to print beside a check.

    Raises:
        DataError: the check is answered by a category.

    """
    column = weigher.column(check)
    if column.scale is None:
        raise DataError("a check answered by a word has no band.", where=check)
    values = weigher.samples.predictions(which, check).astype(np.float64)
    low, high = np.quantile(values, [(1.0 - share) / 2.0, (1.0 + share) / 2.0], method="nearest")
    unit = weigher.assumptions.tolerance
    top = high if np.isinf(high) else high + unit * float(column.scale.unit(high))
    bottom = low if np.isinf(low) else low - unit * float(column.scale.unit(low))
    return float(max(bottom, 0.0) if column.observable.quantity == "ohms" else bottom), float(top)


def _usual(weigher: Weigher, which: Hypothesis, check: str) -> str:
    observable = weigher.column(check).observable
    indices = weigher.samples.predictions(which, check).astype(np.int64)
    return observable.categories[int(np.bincount(indices, minlength=len(observable.categories)).argmax())]
