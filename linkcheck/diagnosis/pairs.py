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

from linkcheck.diagnosis.samples import SOUND, Hypothesis, Samples

__all__ = ["composed", "pairs_with"]

Array = npt.NDArray[Any]

SMALL_VOLTS = 1.0  # changes below this add up: a drop in the feed and one in the ground
LEAST_OHMS = 1e-3


def pairs_with(samples: Samples, faults: Sequence[str]) -> list[Hypothesis]:
    """Every pair of one of these faults and any other of the table, once."""
    known = [which[0] for which in samples.hypotheses if len(which) == 1]
    return sorted({tuple(sorted((one, other))) for one in faults for other in known if one != other})


def composed(samples: Samples, pairs: Sequence[Hypothesis]) -> Samples:
    """The table with these pairs added, composed from single faults; its own rows stay the first."""
    kinds = np.array([each.quantity for each in samples.observables])
    sound = samples.values[samples.row(SOUND)]
    changed = (samples.values != sound).any(axis=2)
    first = len(samples.hypotheses)
    values = np.empty((first + len(pairs), *samples.values.shape[1:]), np.float32)
    values[:first] = samples.values
    for found, pair in zip(values[first:], pairs, strict=True):
        one, other = (samples.row((fault,)) for fault in pair)
        found[:] = samples.values[other]
        found[~changed[other]] = samples.values[one][~changed[other]]
        both = changed[one] & changed[other]
        for kind, compose in (("dc_volts", _volts), ("ohms", _ohms), ("category", _category)):
            rows = both & (kinds == kind)
            found[rows] = compose(sound[rows], samples.values[one][rows], samples.values[other][rows])
    return Samples([*samples.hypotheses, *pairs], samples.observables, values)


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
