"""A CAN bus as a piece of wiring: cable, stations on their stubs, terminators, drivers. Values only, no waves.

Everything is differential: ohms, farads and volts between the two wires of the pair. Distances are in metres from the
bus's start. A lossless cable is told by its impedance and its delay; its capacitance follows from both.

Defaults: SAE J1939-11 (120 ohm, at most 5 ns/m, from memory), NXP TJA1051 data sheet rev. 7, table 7 (30 kohm between
the lines; 10 pF between them and 20 pF from each to ground, so 20 pF between them), and a driver chosen inside that
data sheet's 1.4 to 3.3 V into 45 to 70 ohm: 5 V less two diodes of 0.7 V, through two switches of 24 ohm.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace

from linkcheck.errors import UsageError

__all__ = ["LONGEST_M", "Bus", "Cable", "Driver", "Station", "Terminator", "even_bus"]

LONGEST_M = 1000.0  # beyond any vehicle; keeps a slip of the key from asking for hours of waves
LEAST_TERMINATOR_OHMS = 1.0


@dataclass(frozen=True, slots=True)
class Cable:
    """A lossless pair.

    Raises:
        UsageError: figures no cable has.

    """

    impedance_ohms: float = 120.0
    delay_ns_per_m: float = 5.0

    def __post_init__(self) -> None:
        if not 20.0 <= self.impedance_ohms <= 500.0:
            raise UsageError(f"A pair of {self.impedance_ohms:g} ohm does not exist.", todo="Usual is 120, 95 to 140.")
        if not 3.3 <= self.delay_ns_per_m <= 20.0:
            raise UsageError(
                f"A cable of {self.delay_ns_per_m:g} ns/m does not exist: light itself takes 3.3 ns/m.",
                todo="Usual is 5 ns/m; with a capacitance C per metre it is impedance times C.",
            )

    @property
    def picofarads_per_m(self) -> float:
        """Capacitance between the lines."""
        return 1e3 * self.delay_ns_per_m / self.impedance_ohms


@dataclass(frozen=True, slots=True)
class Driver:
    """A transmitter: a voltage behind a resistance, and how long it takes to switch. It can push, never pull back.

    `transition_ns` is the time from fully off to fully on and back; slope control makes it 20 to 100 ns in usual parts
    (common practice, no source).
    """

    emf_volts: float = 3.6
    on_ohms: float = 48.0
    transition_ns: float = 50.0


@dataclass(frozen=True, slots=True)
class Station:
    """A device at the end of its stub: its place, its input, its driver. Without a driver it only listens."""

    at_m: float
    stub_m: float = 0.0
    input_farads: float = 20e-12
    input_ohms: float = 30e3
    driver: Driver | None = field(default_factory=Driver)


@dataclass(frozen=True, slots=True)
class Terminator:
    """A resistor across the pair."""

    at_m: float
    ohms: float = 120.0


@dataclass(frozen=True, slots=True)
class Bus:
    """The whole network. Stations are in the order of their places.

    Raises:
        UsageError: places outside the bus, no stations, or figures that cannot be.

    """

    cable: Cable
    length_m: float
    stations: tuple[Station, ...]
    terminators: tuple[Terminator, ...]

    def __post_init__(self) -> None:
        if not 0.1 <= self.length_m <= LONGEST_M:
            raise UsageError(f"A bus of {self.length_m:g} m.", todo=f"Give 0.1 to {LONGEST_M:g} m.")
        if len(self.stations) < 2:
            raise UsageError("A bus needs two stations to talk to each other.", todo="Give at least 2 nodes.")
        spots = [each.at_m for each in self.stations] + [each.at_m for each in self.terminators]
        for at_m in spots:
            if not 0.0 <= at_m <= self.length_m:
                raise UsageError(f"Something sits at {at_m:g} m, and the bus is {self.length_m:g} m long.")
        if any(not 0.0 <= station.stub_m <= LONGEST_M for station in self.stations):
            raise UsageError("A stub has a length that cannot be.", todo=f"Give 0 to {LONGEST_M:g} m.")
        if any(terminator.ohms < LEAST_TERMINATOR_OHMS for terminator in self.terminators):
            raise UsageError(
                f"A terminator under {LEAST_TERMINATOR_OHMS:g} ohm is a short.", todo="No bus talks through one."
            )
        object.__setattr__(self, "stations", tuple(sorted(self.stations, key=lambda station: station.at_m)))

    @property
    def load_ohms(self) -> float:
        """What a meter shows between the lines: terminators and inputs in parallel."""
        siemens = sum(1.0 / each.ohms for each in self.terminators)
        return 1.0 / (siemens + sum(1.0 / each.input_ohms for each in self.stations))

    @property
    def farads(self) -> float:
        """All there is between the lines: backbone, stubs and inputs."""
        metres = self.length_m + sum(each.stub_m for each in self.stations)
        return metres * self.cable.picofarads_per_m * 1e-12 + sum(each.input_farads for each in self.stations)

    def with_stubs(self, metres: float) -> Bus:
        """The same bus with every stub of that length."""
        return replace(self, stations=tuple(replace(each, stub_m=metres) for each in self.stations))

    def scaled(self, length_m: float) -> Bus:
        """The same bus drawn out or shrunk to another length; stubs keep theirs."""
        factor = length_m / self.length_m
        return replace(
            self,
            length_m=length_m,
            stations=tuple(replace(each, at_m=min(each.at_m * factor, length_m)) for each in self.stations),
            terminators=tuple(replace(each, at_m=min(each.at_m * factor, length_m)) for each in self.terminators),
        )

    def terminated(self, ohms: tuple[float, ...]) -> Bus:
        """The same bus with other terminators; see `places`."""
        return replace(self, terminators=places(ohms, self.length_m))


def places(ohms: tuple[float, ...], length_m: float) -> tuple[Terminator, ...]:
    """Terminators without a place: the first at the start, the second at the end, more of them in the middle."""
    spots = (0.0, length_m, *(length_m / 2.0,) * len(ohms))
    return tuple(Terminator(at_m, each) for at_m, each in zip(spots, ohms, strict=False))


def even_bus(
    length_m: float,
    nodes: int,
    *,
    stub_m: float = 1.0,
    terminators: tuple[float, ...] = (120.0, 120.0),
    cable: Cable | None = None,
    station: Station | None = None,
) -> Bus:
    """A bus with its nodes spread evenly from end to end.

    Args:
        length_m: backbone.
        nodes: how many.
        stub_m: of every node.
        terminators: ohms; see `places`.
        cable: the usual one where not given.
        station: a pattern for all of them; its place and stub are not used.

    Raises:
        UsageError: figures that cannot be.

    """
    if not 2 <= nodes <= 100:
        raise UsageError(f"A bus of {nodes} nodes.", todo="Give 2 to 100.")
    pattern = station or Station(0.0)
    stations = tuple(
        replace(pattern, at_m=min(length_m * k / (nodes - 1), length_m), stub_m=stub_m) for k in range(nodes)
    )
    return Bus(cable or Cable(), length_m, stations, places(terminators, length_m))
