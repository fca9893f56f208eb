"""Shapes of uncertainty that the parameter tables are written in.

A sampler takes a random generator, the vehicles' shared draws and the shape wanted, and gives an array of that shape.
Only what the tables need is here; the figures themselves stand in the parameter tables and in `knob_table`.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

import numpy as np
import numpy.typing as npt

from linkcheck.circuit.vehicle import Vehicles

__all__ = [
    "Array",
    "Sampler",
    "alike",
    "chance",
    "constant",
    "log",
    "mixture",
    "normal",
    "of_vehicle",
    "pick",
    "some_trucks",
    "uniform",
]

Array = npt.NDArray[Any]
# Severities of faults are drawn without vehicles; only `of_vehicle` and its like ask for them.
Sampler = Callable[[np.random.Generator, Any, tuple[int, ...]], Array]


def constant(value: float) -> Sampler:
    """The same figure everywhere; a boolean stays one."""
    return lambda _rng, _vehicles, shape: np.full(shape, value)


def uniform(low: float, high: float) -> Sampler:
    """Any figure between two bounds, evenly."""
    return lambda rng, _vehicles, shape: rng.uniform(low, high, shape)


def log(low: float, high: float) -> Sampler:
    """Any figure between two bounds, evenly in its logarithm."""
    return lambda rng, _vehicles, shape: np.exp(rng.uniform(np.log(low), np.log(high), shape))


def normal(mean: float, deviation: float, low: float, high: float) -> Sampler:
    """Normal, cut at two bounds."""
    return lambda rng, _vehicles, shape: np.clip(rng.normal(mean, deviation, shape), low, high)


def chance(probability: float) -> Sampler:
    """True with this probability."""
    return lambda rng, _vehicles, shape: rng.random(shape) < probability


def some_trucks(*odds: tuple[float, float]) -> Sampler:
    """True with a probability that is itself the truck's: pairs of weight and probability."""
    weights, chances = zip(*odds, strict=True)

    def sample(rng: np.random.Generator, _vehicles: Vehicles | None, shape: tuple[int, ...]) -> Array:
        return np.asarray(rng.random(shape) < rng.choice(chances, shape[-1], p=weights))

    return sample


def alike(share: float, sampler: Sampler) -> Sampler:
    """In this share of trucks all modules have the same figure, as parts of one make have; float64[modules, B]."""

    def sample(rng: np.random.Generator, vehicles: Vehicles | None, shape: tuple[int, ...]) -> Array:
        figures = sampler(rng, vehicles, shape)
        return np.where(rng.random(shape[-1]) < share, figures[:1], figures) if len(shape) > 1 else figures

    return sample


def pick(weights: Mapping[float, float]) -> Sampler:
    """One of a few figures, by weight."""
    total = sum(weights.values())
    odds = [weight / total for weight in weights.values()]
    return lambda rng, _vehicles, shape: rng.choice(np.array(list(weights)), shape, p=odds)


def mixture(*parts: tuple[float, Sampler]) -> Sampler:
    """One of several samplers for each figure, by weight; the weights add up to one."""

    def sample(rng: np.random.Generator, vehicles: Vehicles | None, shape: tuple[int, ...]) -> Array:
        which = rng.choice(len(parts), shape, p=[weight for weight, _ in parts])
        return np.choose(which, [part(rng, vehicles, shape) for _, part in parts])

    return sample


def of_vehicle(attribute: str, spread: float = 0.0) -> Sampler:
    """A figure that the vehicles' shared draws already hold, with a relative spread of its own."""

    def sample(rng: np.random.Generator, vehicles: Vehicles, shape: tuple[int, ...]) -> Array:
        base = getattr(vehicles, attribute)
        return np.broadcast_to(base, shape) * (1.0 + rng.uniform(-spread, spread, shape)) if spread else base

    return sample
