"""What a batch of sampled trucks shares: what the technician said of the truck, and its layout.

Lengths, gauges, the temperature and the number of modules are drawn here once, because many parameters follow from
them together: both wires of a pair are equally long and equally warm.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from linkcheck.circuit.wires import wire_ohms_per_metre
from linkcheck.errors import UsageError

__all__ = ["JOINED_OHMS", "MODULE_SLOTS", "SEGMENTS", "Equipment", "Vehicles", "draw_vehicles"]

Array = npt.NDArray[Any]

MODULE_SLOTS = 8
SEGMENTS = MODULE_SLOTS + 1  # terminator_1 - junction 1 - ... - junction 8 - terminator_2
JOINED_OHMS = 1e-6  # a piece of backbone that this truck does not have
STRANDED = 1.04  # stranded over solid wire, UL 1581 maxima 21.8 to 20.95 ohm/km for AWG 18


@dataclass(frozen=True, slots=True)
class Equipment:
    """What is known of the truck before the first reading. None: not known, so it is drawn.

    Attributes:
        system_volts: 12 or 24.
        j1708: a J1708 pair on cavities F and G.
        shield: a shield on cavity E.
        second_can: a second CAN pair on cavities H and J.
        bit_rate: of the CAN pair on C and D, in bit/s.
        modules: 3 to 8.

    """

    system_volts: float = 12.0
    j1708: bool | None = True
    shield: bool | None = None
    second_can: bool | None = None
    bit_rate: float = 250_000.0
    modules: int | None = None

    def __post_init__(self) -> None:
        if self.system_volts not in (12.0, 24.0):
            raise UsageError("a truck's system is 12 or 24 volts.", where=f"{self.system_volts:g} V")
        if self.modules is not None and not 3 <= self.modules <= MODULE_SLOTS:
            raise UsageError(f"a truck has 3 to {MODULE_SLOTS} modules here.", where=str(self.modules))


@dataclass(frozen=True, slots=True, eq=False)
class Vehicles:
    """Shared draws, trucks on the last axis (n trucks).

    Attributes:
        equipment: what was known.
        batteries: 1 for 12 V, 2 for 24 V.
        module_count: int[n].
        module_present: bool[8, n]; module 1 is nearest to terminator 1.
        stub_at: int[n], the junction (0 for module 1's) where the connector's stub leaves the backbone.
        temperature_c: of the harness, float[n].
        segment_ohms: float[9, n], one conductor of each piece of backbone.
        segment_metres: float[9, n].
        stub_ohms: float[n], one conductor from the backbone to the connector.
        module_stub_ohms: float[8, n].
        feed_ohms, ground_ohms: float[n], whole wires to cavities B and A.
        j1708_ohms, second_can_ohms: float[n], one conductor.

    """

    equipment: Equipment
    batteries: float
    module_count: Array
    module_present: Array
    stub_at: Array
    temperature_c: Array
    segment_ohms: Array
    segment_metres: Array
    stub_ohms: Array
    module_stub_ohms: Array
    feed_ohms: Array
    ground_ohms: Array
    j1708_ohms: Array
    second_can_ohms: Array


def draw_vehicles(rng: np.random.Generator, n: int, equipment: Equipment) -> Vehicles:
    """Lay out n trucks.

    Lengths: backbone up to 40 m (SAE J1939-11), stubs up to 3 m (SAE J1939-15, from memory); feeds and grounds
    common practice, no source. Gauges: 18 or 20 AWG for the data link, 12 to 18 for feed and ground.
    """
    count = np.full(n, equipment.modules) if equipment.modules else rng.integers(3, MODULE_SLOTS + 1, n)
    slots = np.arange(MODULE_SLOTS)[:, None]
    temperature = rng.uniform(-25.0, 65.0, n)

    def ohms(metres: Array, gauges: tuple[int, ...]) -> Array:
        return metres * STRANDED * wire_ohms_per_metre(rng.choice(gauges, n), temperature)

    # A piece of backbone exists up to each module that is there, and from the last one to terminator 2.
    real = np.vstack([slots < count, np.ones((1, n), np.bool_)])
    parts = np.where(real, rng.exponential(1.0, (SEGMENTS, n)) + 0.05, 0.0)
    metres = parts / parts.sum(axis=0) * np.exp(rng.uniform(np.log(5.0), np.log(40.0), n))
    link = (18, 20)
    return Vehicles(
        equipment=equipment,
        batteries=equipment.system_volts / 12.0,
        module_count=count,
        module_present=slots < count,
        stub_at=rng.integers(0, count),
        temperature_c=temperature,
        segment_ohms=np.where(real, ohms(metres, link), JOINED_OHMS),
        segment_metres=metres,
        stub_ohms=ohms(rng.uniform(0.2, 3.0, n), link),
        module_stub_ohms=ohms(rng.uniform(0.1, 3.0, (MODULE_SLOTS, n)), link),
        feed_ohms=ohms(rng.uniform(1.0, 10.0, n), (12, 14, 16, 18)),
        ground_ohms=ohms(rng.uniform(0.5, 10.0, n), (12, 14, 16, 18)),
        j1708_ohms=ohms(rng.uniform(1.0, 30.0, n), link),
        second_can_ohms=ohms(rng.uniform(0.5, 20.0, n), link),
    )
