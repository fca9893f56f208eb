"""How likely a reading is on a sampled truck: meter, discrepancy, heavy tails, slips of hand, repeats.

On the axis of `scale` a reading spreads around its prediction like Student's t with four degrees of freedom (its
distribution function is closed: no special functions needed), one unit wide, wider where the meter is worse. With a
small chance it is a slip of hand and says nothing. A check that was read again shares its discrepancy but not its
slips: readings that agree leave hardly room for a slip, readings that do not are two alternatives.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cached_property
from itertools import combinations
from typing import Any

import numpy as np
import numpy.typing as npt

from linkcheck.diagnosis.reading import Assumptions, Taken
from linkcheck.diagnosis.samples import Observable, Table
from linkcheck.diagnosis.scale import Scale, scale_of
from linkcheck.errors import DataError

__all__ = ["Column", "bell", "below", "thin", "thinning"]

Array = npt.NDArray[Any]

MARGIN = 10.0  # units beyond the predictions that a slip may reach
LEAST_RANGE = 60.0  # units a slip spreads over at least
SLIP_OVER = 0.1  # of the slips on ohms that could be anything, those that read OL
AGREEING = 0.5  # units that a repeated reading moves beside the meter's uncertainty: contact, temperature, traffic
ENOUGH = 200  # trucks of a hypothesis that misfit and expected information are worked out with
AT_MOST = 6  # repeats of one check that are weighed: the middle ones


def bell(distance: Array) -> Array:
    """Density of Student's t with four degrees of freedom."""
    spread = 1.0 + distance * distance * 0.25
    return 0.375 / (spread * spread * np.sqrt(spread))


def below(distance: Array) -> Array:
    """Distribution function of Student's t with four degrees of freedom."""
    square = distance * distance * 0.25
    return 0.5 + 0.375 * distance / np.sqrt(1.0 + square) * (1.0 - square / (3.0 * (1.0 + square)))


def thinning(trucks: int) -> int:
    """Every how many-th truck is enough, where all of them would only cost time."""
    return max(1, trucks // ENOUGH)


def thin(figures: Array) -> Array:
    """Some of the trucks (last axis), evenly picked."""
    return figures[..., :: thinning(figures.shape[-1])]


class Column:
    """One check over all hypotheses, on the axis where readings are compared.

    Attributes:
        observable: the check.
        assumptions: how readings are weighed.
        scale: its axis; None for categories.
        ends: places of the lowest and the highest prediction.
        range: units that a slip may spread over.

    """

    def __init__(self, samples: Table, check: str, assumptions: Assumptions) -> None:
        self.observable: Observable = samples.observables[samples.column(check)]
        self.assumptions = assumptions
        self._samples = samples
        self._some: Array | None = None
        self.scale: Scale | None = None
        if self.observable.quantity != "category":
            self.scale = scale_of(self.observable.quantity, self.observable.subsystem)
            self.ends = self._placed(np.array(samples.ends(check)))
            self.range = max(float(self.ends[1] - self.ends[0]) + 2.0 * MARGIN, LEAST_RANGE)

    @cached_property
    def places(self) -> Array:
        """Predictions on the axis, float32[H, N], or a category's index."""
        return self._placed(self._samples.of_check(self.observable.id))

    def some_places(self, rows: Array) -> Array:
        """The same for some hypotheses and some of their trucks (`thin`); what was worked out once is kept."""
        step = thinning(self._samples.trucks)
        if self._some is None:
            shape = len(self._samples.hypotheses), len(range(0, self._samples.trucks, step))
            self._some, self._known = (
                np.empty(shape, np.int64 if self.scale is None else np.float32),
                np.zeros(shape[0], bool),
            )
        new = rows[~self._known[rows]]
        if len(new):
            self._some[new] = self._placed(self._samples.of_check(self.observable.id, new, slice(None, None, step)))
            self._known[new] = True
        return np.asarray(self._some[rows])

    def _placed(self, values: Array) -> Array:
        if self.scale is None:
            return np.asarray(values.astype(np.int64))
        return np.asarray(self.scale.place(values) / np.float32(self.assumptions.tolerance))

    # Categories ------------------------------------------------------------------------------------------------

    def confusion(self) -> Array:
        """Chance of each answer (last axis) where each category is true; neighbours are mistaken more easily."""
        size = len(self.observable.categories)
        apart = np.abs(np.subtract.outer(np.arange(size), np.arange(size)))
        odds = self.observable.mistaken**apart
        return np.asarray(odds / odds.sum(axis=1, keepdims=True))

    # Readings --------------------------------------------------------------------------------------------------

    @property
    def over(self) -> float:
        """Place where OL begins; infinite on volts."""
        return self.scale.last / self.assumptions.tolerance if self.scale else np.inf

    def place(self, reading: Taken) -> tuple[float, float]:
        """Place of a reading and how far it spreads around a prediction; an infinite place is OL.

        Raises:
            DataError: the value does not fit the check.

        """
        value = reading.value
        if self.observable.quantity == "category":
            if value not in self.observable.categories:
                words = ", ".join(self.observable.categories)
                raise DataError(f"this check is answered by one of {words}.", where=f"{reading.check} = {value}")
            return float(self.observable.categories.index(value)), 1.0
        if self.scale is None or isinstance(value, str) or not self.scale.can_read(value):
            raise DataError("this check is answered by a figure.", where=f"{reading.check} = {value}")
        if np.isinf(value):
            return np.inf, 1.0
        blur = reading.uncertainty / float(self.scale.unit(value)) / self.assumptions.tolerance
        return float(self.scale.place(value)) / self.assumptions.tolerance, float(np.hypot(1.0, blur))

    def fit(self, place: Array | float, spread: float, places: Array) -> Array:
        """Likelihood of readings at a place where a truck is at `places`, without slips; shapes broadcast."""
        if self.observable.quantity == "category":
            return np.asarray(self.confusion()[places, np.asarray(place, np.int64)])
        beyond = np.isinf(place)
        finite = bell((np.where(beyond, 0.0, place) - places) / spread) / spread
        return np.where(beyond, 1.0 - below((self.over - places) / spread), finite) if np.any(beyond) else finite

    def slip(self, place: Array | float) -> Array:
        """Likelihood of readings that are slips of hand."""
        where = np.asarray(place, np.float64)
        if self.observable.quantity == "category":
            return np.full(where.shape, 1.0 / len(self.observable.categories))
        air = self.assumptions.no_contact
        if self.observable.quantity == "dc_volts":
            return np.asarray(air * bell(where) + (1.0 - air) / self.range)
        wild = 1.0 - air
        return np.where(np.isinf(where), air + wild * SLIP_OVER, wild * (1.0 - SLIP_OVER) / self.range)

    def weigh(self, readings: Sequence[Taken]) -> Array:
        """Likelihood of all readings of this check on each truck, float64[H, N], redrawn trucks included."""
        taken = sorted(self.place(reading) for reading in readings)
        taken = taken[max(0, (len(taken) - AT_MOST) // 2) :][:AT_MOST]
        count, slip = len(taken), self.assumptions.slip
        slips = [float(self.slip(place)) for place, _ in taken]
        total = np.full(self.places.shape, slip**count * np.prod(slips))
        for size in range(1, count + 1):
            for kept in combinations(range(count), size):
                out = [slips[k] for k in range(count) if k not in kept]
                odds = (
                    (1.0 - slip) ** size * slip ** (count - size) * float(np.prod(out)) if out else (1.0 - slip) ** size
                )
                place, spread, agreement = self._agree([taken[k] for k in kept])
                if agreement > 0.0:
                    total += odds * agreement * self._redrawn(self.fit(place, spread, self.places))
        return total

    def _redrawn(self, fit: Array) -> Array:
        """Each truck may be another of the same fault in this reading."""
        redraw = self.assumptions.redraw
        return np.asarray((1.0 - redraw) * fit + redraw * fit.mean(axis=1, keepdims=True))

    def _agree(self, taken: Sequence[tuple[float, float]]) -> tuple[float, float, float]:
        """Several readings of one truth as one: place, spread, and how well they agree (a density)."""
        places = np.array([place for place, _ in taken])
        spread = max(spread for _, spread in taken)
        if self.observable.quantity == "category" or np.isinf(places).any():
            return float(places[0]), spread, float((places == places[0]).all())
        count, middle = len(places), float(places.mean())
        wide = float(np.hypot(AGREEING, np.sqrt(max(spread**2 - 1.0, 0.0))))
        apart = float(((places - middle) ** 2).sum()) / wide**2
        return middle, spread, np.exp(-apart / 2.0) / np.sqrt(count) / (np.sqrt(2.0 * np.pi) * wide) ** (count - 1)
