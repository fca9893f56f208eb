"""Two faults at once, composed from the predictions of each alone: a quick look that needs no circuit.

Because truck i is the same truck under every hypothesis, a column that only one of the two faults changes is exact.
Where both change it, the composition is a rule of thumb: small changes of volts add up and the larger of large ones
wins; ohms that both rise add up as in series, others as in parallel; of categories, the one that hides the other.
Whoever has a circuit at hand replaces the pairs that turn out to matter by real predictions (`Samples.with_rows`).
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
import numpy.typing as npt

from linkcheck.diagnosis.samples import ALL, SOUND, Hypothesis, Rows, Table

__all__ = ["Pairs", "pairs_with"]

Array = npt.NDArray[Any]

SMALL_VOLTS = 1.0  # changes below this add up: a drop in the feed and one in the ground
LEAST_OHMS = 1e-3


def pairs_with(samples: Table, faults: Sequence[str]) -> list[Hypothesis]:
    """Every pair of one of these faults and any other of the table, once."""
    known = [which[0] for which in samples.hypotheses if len(which) == 1]
    return sorted({tuple(sorted((one, other))) for one in faults for other in known if one != other})


class Pairs(Table):
    """A table with pairs added, composed from its single faults when they are asked for; its own rows stay the first.

    Args:
        singles: the table.
        pairs: what is added.

    """

    def __init__(self, singles: Table, pairs: Sequence[Hypothesis]) -> None:
        super().__init__([*singles.hypotheses, *pairs], singles.observables, singles.trucks)
        self.singles = singles
        own = range(len(singles.hypotheses))
        # A row of the table itself is composed of itself and the sound truck, and comes out as it was.
        sound = singles.row(SOUND)
        halves = [(row, sound) for row in own] + [(singles.row((a,)), singles.row((b,))) for a, b in pairs]
        self._halves = np.array(halves, np.intp)

    def of_check(self, check: str, rows: Rows = ALL, trucks: slice = ALL) -> npt.NDArray[np.float32]:
        """What a check reads under some hypotheses on some trucks, float32[rows, trucks]."""
        halves = self._halves[rows]
        needed, place = np.unique(halves, return_inverse=True)
        found = self.singles.of_check(check, needed, trucks)
        sound = self.singles.of_check(check, np.array([self.singles.row(SOUND)]), trucks)
        moved = (found != sound).any(axis=1)[place.reshape(halves.shape)]
        one, other = (found[half] for half in place.reshape(halves.shape).T)
        compose = _COMPOSE[self.observables[self.column(check)].quantity]
        result = np.where(moved[:, :1], one, other)
        both = moved.all(axis=1)
        if both.any():
            result[both] = compose(sound, one[both], other[both])
        return np.asarray(result, np.float32)

    def ends(self, check: str) -> tuple[float, float]:
        """The lowest and the highest prediction of a check, pairs not counted."""
        return self.singles.ends(check)


def _volts(sound: Array, one: Array, other: Array) -> Array:
    first, second = one - sound, other - sound
    added = sound + first + second
    lowest, highest = np.minimum(one, other), np.maximum(one, other)
    # Two faults that both leave less of some volts leave none at worst: the sum must not come out on the other side.
    added = np.where((added < 0.0) & (lowest >= 0.0) | (added > 0.0) & (highest <= 0.0), 0.0, added)
    small = np.minimum(np.abs(first), np.abs(second)) < SMALL_VOLTS
    return np.where(small, added, np.where(np.abs(first) >= np.abs(second), one, other))


def _ohms(sound: Array, one: Array, other: Array) -> Array:
    with np.errstate(divide="ignore", invalid="ignore"):
        siemens = (
            1.0 / np.maximum(one, LEAST_OHMS)
            + 1.0 / np.maximum(other, LEAST_OHMS)
            - 1.0 / np.maximum(sound, LEAST_OHMS)
        )
        parallel = np.where(siemens > 0.0, 1.0 / siemens, np.inf)
        series = np.where(np.isinf(sound), np.inf, one + other - sound)
    return np.select([one == sound, other == sound, (one > sound) & (other > sound)], [other, one, series], parallel)


def _category(sound: Array, one: Array, other: Array) -> Array:
    return np.select([one == sound, other == sound], [other, one], np.minimum(one, other))


_COMPOSE = {"dc_volts": _volts, "ohms": _ohms, "category": _category}
