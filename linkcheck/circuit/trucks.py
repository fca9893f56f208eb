"""`Trucks`: a batch of sampled trucks, as plain arrays by parameter name, trucks on the last axis.

What a figure means stands in its table (`PARAMETERS`); what the circuit makes of it, in the networks. Trucks never
change: a fault makes new ones with some figures set anew (`changed`) or with a short between two nodes (`bridged`).
"""

from __future__ import annotations

import zlib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
import numpy.typing as npt

from linkcheck.circuit.interface_parameters import ADAPTER_PARAMETERS, MODULE_PARAMETERS, SECOND_CAN_PARAMETERS
from linkcheck.circuit.link_parameters import LINK_PARAMETERS
from linkcheck.circuit.parameter import AXES, OPEN, Parameter
from linkcheck.circuit.probes import NODES
from linkcheck.circuit.supply_parameters import SUPPLY_PARAMETERS
from linkcheck.circuit.vehicle import Equipment, draw_vehicles
from linkcheck.errors import UsageError

__all__ = ["PARAMETERS", "Trucks", "sample_trucks"]

Array = npt.NDArray[Any]

PARAMETERS: dict[str, Parameter] = {
    row.name: row
    for row in (
        *SUPPLY_PARAMETERS,
        *LINK_PARAMETERS,
        *MODULE_PARAMETERS,
        *ADAPTER_PARAMETERS,
        *SECOND_CAN_PARAMETERS,
    )
}


@dataclass(frozen=True, slots=True, eq=False)
class Trucks:
    """A batch of trucks.

    Attributes:
        values: parameter name to its array, shape AXES[axis] + (B,).
        bridges: shorts and leakages: two node names (in sorted order) to ohms, float64[B]; `OPEN` where a truck has
            none.

    """

    values: Mapping[str, Array]
    bridges: Mapping[tuple[str, str], Array] = field(default_factory=dict)

    def __len__(self) -> int:
        return int(self.values["fuse_ohms"].shape[-1])

    def __getitem__(self, name: str) -> Array:
        return self.values[name]

    def changed(self, **values: Array | float | bool) -> Trucks:
        """The same trucks with other figures; each is broadcast to its parameter's shape.

        Raises:
            UsageError: no such parameter, or a resistance that is not above zero.

        """
        for name, value in values.items():
            if name not in PARAMETERS:
                raise UsageError("the circuit has no such parameter.", where=name)
            if PARAMETERS[name].unit == "ohm":
                _check_ohms(name, value)
        new = {
            name: np.broadcast_to(np.asarray(value, self.values[name].dtype), self.values[name].shape)
            for name, value in values.items()
        }
        return replace(self, values={**self.values, **new})

    def bridged(self, a: str, b: str, ohms: Array | float) -> Trucks:
        """The same trucks with a resistance between two nodes, beside any that is there already.

        Raises:
            UsageError: no such node, the same one twice, or a resistance that is not above zero.

        """
        if a == b or not {a, b} <= NODES:
            raise UsageError("a bridge joins two different nodes of the circuit.", where=f"{a}, {b}")
        _check_ohms(f"{a}, {b}", ohms)
        key = (min(a, b), max(a, b))
        added = np.broadcast_to(np.asarray(ohms, np.float64), (len(self),))
        before = self.bridges.get(key)
        if before is not None:
            added = 1.0 / (1.0 / before + 1.0 / added)
        return replace(self, bridges={**self.bridges, key: added})

    def take(self, rows: slice | Array) -> Trucks:
        """Some of the trucks, by index or by slice."""
        return Trucks(
            {name: value[..., rows] for name, value in self.values.items()},
            {key: value[rows] for key, value in self.bridges.items()},
        )

    def chunks(self, size: int) -> Iterator[Trucks]:
        """The trucks in batches of at most `size`."""
        for start in range(0, len(self), size):
            yield self.take(slice(start, start + size))


def _check_ohms(where: str, ohms: Array | float) -> None:
    if not np.all(np.asarray(ohms) > 0.0):
        raise UsageError("a resistance must be above zero.", where=where, todo="Use a microhm for a joint.")


def concatenate(*batches: Trucks) -> Trucks:
    """One batch of several, in order; a bridge that a batch lacks is `OPEN` there."""
    keys = {key for batch in batches for key in batch.bridges}
    return Trucks(
        {name: np.concatenate([batch[name] for batch in batches], axis=-1) for name in PARAMETERS},
        {key: np.concatenate([batch.bridges.get(key, np.full(len(batch), OPEN)) for batch in batches]) for key in keys},
    )


def sample_trucks(rng: np.random.Generator, n: int, equipment: Equipment | None = None) -> Trucks:
    """Draw n sound trucks.

    Every parameter is drawn from a stream of its own, seeded by its name, so that a new parameter leaves the others'
    figures as they were.

    Args:
        rng: moves on by a fixed amount, whatever is drawn.
        n: how many.
        equipment: what is known of them; 12 V with J1708 where not given.

    """
    seed = int(rng.integers(2**63))
    vehicles = draw_vehicles(np.random.default_rng([seed, 0]), n, equipment or Equipment())
    return Trucks(
        {
            name: row.sample(np.random.default_rng([seed, zlib.crc32(name.encode())]), vehicles, (*AXES[row.axis], n))
            for name, row in PARAMETERS.items()
        }
    )
