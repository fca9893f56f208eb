"""How many terminators a bus has, told from the shape of its edges alone.

Neither the dominant level nor the decay alone can tell: drivers differ, and a short bus decays quickly whatever ends
it. So a few hundred invented buses (length, places, stubs, inputs, drivers, terminators of 120 ohm within 5 %) are
solved as waves, once, and what was measured is compared with what they would have shown: which count explains it best
(Bayes, with a smooth kernel around every invented bus).

Ranges: bus 2 to 40 m and inputs of 20 to 250 pF as of SAE J1939-11 (from memory) and the NXP TJA1051 data sheet rev. 7
with filters beside it; drivers chosen inside that data sheet's 1.4 to 3.3 V into 45 to 70 ohm; stubs, odds and kernel
widths are our own judgement.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np
import numpy.typing as npt

from linkcheck.physical.bus import Bus, Cable, Driver, Station, Terminator
from linkcheck.physical.levels import Fall, shape
from linkcheck.physical.line import lay, swing

__all__ = ["COUNTS", "Evidence", "judge"]

Array = npt.NDArray[Any]

COUNTS = ("two", "one", "none", "three")
ODDS = {"two": 0.55, "one": 0.25, "none": 0.08, "three": 0.12}
EACH = 120  # buses of each count, each looked at from every station but the sender's
STATIONS = 6
STEP_S = 1e-9
WATCHED_S = 3e-6
# Kernel: driven volts, driven volts over volts of the joint answer, logarithms of decay and half time, and undershoot
# and overshoot as shares of the driven volts.
WIDTHS = np.array([0.12, 0.05, 0.3, 0.35, 0.12, 0.08])
LONGEST_LOG = np.log(WATCHED_S)
MOST_SHARE = 0.5
FLOOR = 1e-6  # a bus like none of the invented ones speaks for no count


@dataclass(frozen=True, slots=True)
class Evidence:
    """What was measured of one sender.

    Attributes:
        fall: its edge to recessive.
        answer_volts: the lines apart while all others answer together, if seen.
        over_volts: how far its edge to dominant goes above its level, if seen.

    """

    fall: Fall
    answer_volts: float | None = None
    over_volts: float | None = None


def judge(seen: Sequence[Evidence]) -> dict[str, float]:
    """Probability of each count of terminators. Senders share the bus, so together they count as one witness."""
    features, belongs = _invented()
    logs = np.zeros(len(COUNTS))
    for each in seen:
        row = _row(each)
        apart = (features - row) / WIDTHS
        apart[:, np.isnan(row)] = 0.0
        near = np.exp(-0.5 * (apart**2).sum(axis=1))
        logs += np.log([near[belongs == k].mean() + FLOOR for k in range(len(COUNTS))]) / len(seen)
    weights = np.array([ODDS[count] for count in COUNTS]) * np.exp(logs - logs.max())
    return dict(zip(COUNTS, (weights / weights.sum()).tolist(), strict=True))


def _row(each: Evidence) -> Array:
    fall = each.fall
    ratio = np.nan if each.answer_volts is None else fall.driven_volts / each.answer_volts
    decay, half = (min(np.log(value), LONGEST_LOG) for value in (fall.decay_s, fall.half_s))
    over = np.nan if each.over_volts is None else min(each.over_volts / fall.driven_volts, MOST_SHARE)
    return np.array(
        [fall.driven_volts, ratio, decay, half, min(fall.under_volts / fall.driven_volts, MOST_SHARE), over]
    )


@lru_cache(maxsize=1)
def _invented() -> tuple[Array, Array]:
    """Features of the invented buses, float[n, 6], and the index of each one's count."""
    rng = np.random.default_rng(120)
    buses = [_bus(rng, count) for count in COUNTS for _ in range(EACH)]
    senders = rng.integers(STATIONS, size=len(buses))
    seen = swing(lay(buses, STEP_S), np.eye(STATIONS, dtype=bool)[senders], WATCHED_S)
    rows = []
    for k, bus in enumerate(buses):
        joint = _answer(bus, int(rng.integers(2, STATIONS)))
        for at in set(range(STATIONS)) - {int(senders[k])}:
            fallen, risen = seen.recessive[:, k, at], seen.dominant[:, k, at]
            driven = float(fallen[0])
            rows.append(_row(Evidence(shape(fallen, STEP_S, driven), joint, max(0.0, float(risen.max()) - driven))))
    return np.array(rows), np.repeat(np.arange(len(COUNTS)), EACH * (STATIONS - 1))


def _bus(rng: np.random.Generator, count: str) -> Bus:
    length = float(np.exp(rng.uniform(np.log(2.0), np.log(40.0))))
    emf, ohms = rng.uniform(3.3, 3.9), rng.uniform(34.0, 58.0)
    switching = rng.uniform(20.0, 100.0)
    stations = tuple(
        Station(
            float(at),
            float(rng.uniform(0.1, 3.0)),
            float(np.exp(rng.uniform(np.log(20e-12), np.log(250e-12)))),
            30e3,
            Driver(float(emf + rng.normal(0.0, 0.05)), float(ohms * rng.uniform(0.93, 1.07)), float(switching)),
        )
        for at in rng.uniform(0.0, length, STATIONS)
    )
    ends = [0.0, length]
    rng.shuffle(ends)
    spots = {"two": ends, "one": ends[:1], "none": [], "three": [*ends, float(rng.uniform(0.0, length))]}[count]
    terminators = tuple(Terminator(at, float(rng.uniform(114.0, 126.0))) for at in spots)
    return Bus(Cable(float(rng.uniform(108.0, 132.0)), 5.0), length, stations, terminators)


def _answer(bus: Bus, many: int) -> float:
    """Volts while several stations drive together, at rest."""
    drivers = [station.driver for station in bus.stations[:many] if station.driver]
    siemens = sum(1.0 / each.on_ohms for each in drivers)
    return sum(each.emf_volts / each.on_ohms for each in drivers) / (siemens + 1.0 / bus.load_ohms)
