"""Will it be read right? Edges against the sample point, the bit rate at which it stops, the longest stub and bus.

The hardest bit is the one after the acknowledgement. The sender's edge travels to a receiver, passes its transceiver,
the receiver answers by its own clock, and its answer's end must be back, past the sender's transceiver and below 0.5 V,
when the sender samples: two transceiver loops, a rise there, a fall back. Arbitration asks the same of two senders.
One time quantum is lost to the receiver's clock (ISO 11898-1; the budget as in TI SLOA101 and in Microchip AN228).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from linkcheck.errors import UsageError
from linkcheck.physical.bus import Bus
from linkcheck.physical.edges import Edges, look
from linkcheck.physical.line import STEP_S

__all__ = ["Bit", "Margin", "longest_bus_m", "longest_stub_m", "some", "stub_rule_m", "weigh"]

Array = npt.NDArray[Any]

EDGE_SHARE = 6.0  # a stub shorter than a sixth of the edge hardly shows: TI SLLA270 (from memory)
SHORTEST_M, FARTHEST_M = 0.3, 600.0
LENGTHS_M = np.geomspace(SHORTEST_M, FARTHEST_M, 16)
SECOND_ROUND = 12  # lengths tried where the first round ended
COARSE, FINE = 4, 1  # steps of the line's finest


@dataclass(frozen=True, slots=True)
class Bit:
    """How a bit is cut and what transceivers cost.

    Attributes:
        bit_rate: bit/s.
        sample_point: share of the bit before the sample; 87.5 % for J1939 and by CiA up to 500 kbit/s.
        quanta: time quanta in a bit.
        loop_s: through a transceiver to the bus and back; 40 to 250 ns (NXP TJA1051 data sheet rev. 7).

    Raises:
        UsageError: figures that cannot be.

    """

    bit_rate: float
    sample_point: float = 0.875
    quanta: int = 16
    loop_s: float = 250e-9

    def __post_init__(self) -> None:
        if not 5e3 <= self.bit_rate <= 2e6:
            raise UsageError(f"A bit rate of {self.bit_rate:g} bit/s.", todo="Give 5k to 2M.")
        if not 0.5 <= self.sample_point <= 0.95:
            raise UsageError(f"A sample point of {self.sample_point:g}.", todo="Give 0.5 to 0.95, or 50 to 95 percent.")
        if not 0.0 <= self.loop_s <= 1e-6:
            raise UsageError(f"A transceiver that takes {self.loop_s * 1e9:g} ns.", todo="Give 0 to 1000 ns.")

    @property
    def bit_s(self) -> float:
        """Seconds of a bit."""
        return 1.0 / self.bit_rate

    @property
    def usable_s(self) -> float:
        """Seconds from the start of a bit to its sample, less the quantum lost to the other's clock."""
        return (self.sample_point - 1.0 / self.quanta) * self.bit_s


@dataclass(frozen=True, slots=True)
class Margin:
    """One bus at one bit rate.

    Attributes:
        works: every station reads every other, and every acknowledgement ends in time.
        needed_s: the slowest round; infinite where an edge never settles.
        usable_s: what the bit gives.
        share: what is left, as a share of a bit; negative where it fails.
        stops_at_bit_rate: above this rate it fails, the cut of the bit kept; 0 where no rate works.
        recessive_volts: the highest left at any receiver's sample of a recessive bit; above 0.5 it may be misread.
        dominant_volts: the lowest at any receiver's sample of a dominant bit; below 0.9 it may be misread.
        returned_volts: the highest left at any sender's sample of the bit after the acknowledgement.
        sender, receiver: indices of the slowest round.

    """

    works: bool
    needed_s: float
    usable_s: float
    share: float
    stops_at_bit_rate: float
    recessive_volts: float
    dominant_volts: float
    returned_volts: float
    sender: int
    receiver: int


def weigh(edges: Edges, bit: Bit, bus: int = 0) -> Margin:
    """The margin of one of the buses looked at."""
    rounds = _rounds(edges)[bus]
    needed = float(rounds.max()) + 2.0 * bit.loop_s
    sender, receiver = divmod(int(rounds.argmax()), rounds.shape[1])
    share = (bit.usable_s - needed) / bit.bit_s
    stops = (bit.sample_point - 1.0 / bit.quanta) / needed
    recessive, dominant, returned = _levels(edges, bit, bus)
    return Margin(
        share >= 0.0,
        needed,
        bit.usable_s,
        share,
        stops,
        recessive,
        dominant,
        returned,
        int(edges.senders[sender]),
        receiver,
    )


def _rounds(edges: Edges) -> Array:
    """Seconds there and back without transceivers, [B, K, N]: a rise at the receiver, then a fall at the sender.

    The fall is that of all others' acknowledgement or of the receiver's own bit, as in arbitration: the slower one.
    """
    tried = edges.senders
    k = len(tried)
    rise, fall = edges.rise_s[:, :k], edges.fall_s[:, :k]
    acknowledged = edges.fall_s[:, np.arange(k, 2 * k), tried]
    own = np.zeros(rise.shape)
    own[:, :, tried] = np.swapaxes(fall[:, :, tried], 1, 2)
    rounds: Array = rise + np.maximum(acknowledged[:, :, None], own)
    rounds[:, np.arange(k), tried] = 0.0  # nobody reads itself only
    return rounds


def _levels(edges: Edges, bit: Bit, bus: int) -> tuple[float, float, float]:
    """Volts at the samples: highest of recessive bits, lowest of dominant ones, highest of the bit after the answer."""
    k, n = len(edges.senders), edges.rise_s.shape[2]
    step = edges.swing.step_s
    rise = np.where(np.isfinite(edges.rise_s[bus, :k]), edges.rise_s[bus, :k], 0.0)
    rows = slice(bus * 2 * k, bus * 2 * k + k)
    sampled = rise + bit.usable_s
    recessive = _at(edges.swing.recessive[:, rows], sampled / step)
    dominant = _at(edges.swing.dominant[:, rows], sampled / step)
    others = np.arange(n) != edges.senders[:, None]
    slowest = np.where(others, rise, 0.0).max(axis=1)
    answered = edges.swing.recessive[:, np.arange(k) + bus * 2 * k + k, edges.senders]
    returned = _at(answered, (bit.usable_s - 2.0 * bit.loop_s - slowest) / step)
    return float(recessive[others].max()), float(dominant[others].min()), float(returned.max())


def _at(volts: Array, row: Array) -> Array:
    """Values at fractional rows, the first and the last row going on for ever."""
    index = np.clip(np.rint(row), 0, len(volts) - 1).astype(int)
    picked: Array = np.take_along_axis(volts, index[None], axis=0)[0]
    return picked


def stub_rule_m(bus: Bus) -> float:
    """The stub that the rule of a sixth of the edge allows, with the quickest driver on the bus."""
    edge_ns = min(station.driver.transition_ns for station in bus.stations if station.driver)
    return edge_ns / (EDGE_SHARE * bus.cable.delay_ns_per_m)


def longest_stub_m(bus: Bus, bit: Bit) -> float:
    """How long every stub may be before reading fails; 0 where even none helps, infinite beyond what was tried."""
    # Stubs ring, and a little more or less decides: coarse steps only tell where to stop looking.
    _, beyond = _bracket(bus.with_stubs, LENGTHS_M, bit, COARSE)
    if not np.isfinite(beyond):
        return np.inf
    return _bracket(bus.with_stubs, np.geomspace(SHORTEST_M, beyond, SECOND_ROUND), bit, FINE)[0]


def longest_bus_m(bus: Bus, bit: Bit) -> float:
    """To what length the backbone can be drawn out before reading fails; limits as in `longest_stub_m`."""
    best, beyond = _bracket(bus.scaled, LENGTHS_M, bit, COARSE)
    if best == 0.0 or not np.isfinite(beyond):
        return best if np.isfinite(beyond) else np.inf
    return _bracket(bus.scaled, np.linspace(best, beyond, SECOND_ROUND), bit, COARSE)[0]


def _bracket(build: Callable[[float], Bus], tried: Array, bit: Bit, steps: int) -> tuple[float, float]:
    """The last value that works before the first that does not, and that one."""
    best = 0.0
    for part in np.array_split(tried, max(1, len(tried) // 4)):  # few at a time: most searches end early
        buses = [build(float(value)) for value in part]
        edges = look(buses, bit.usable_s, STEP_S * steps, some(len(buses[0].stations), 3 if steps == COARSE else 6))
        for row, value in enumerate(part):
            if not weigh(edges, bit, row).works:
                return best, float(value)
            best = float(value)
    return best, np.inf


def some(stations: int, most: int) -> list[int]:
    """At most so many stations, both ends among them: those whose edges are worth trying where all take too long."""
    return sorted(set(np.linspace(0, stations - 1, min(most, stations)).round().astype(int).tolist()))
