"""What a connector or a vehicle is, once its file has been read: frozen values in SI units, nothing else.

No reading, no drawing, no circuit. `section` and `load` build these from TOML and refuse what does not fit together;
everything downstream (faces, tables, the walk, the traffic's expectations) takes these values as they are.

Positions are on the mating side, seen from the front: x to the right, y up, the shell's outline at 1.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Literal

from linkcheck.quantities import Quantity

__all__ = [
    "POINTS",
    "Caution",
    "Cavity",
    "Check",
    "Fuse",
    "Module",
    "Network",
    "Pinout",
    "Power",
    "Role",
    "Shape",
    "Terminator",
    "Vehicle",
    "Wire",
]

# Where a lead can go besides a cavity.
POINTS = ("chassis", "battery_positive", "battery_negative")

Power = Literal["key_on", "key_off", "battery_off"]  # battery_off: key off and the battery's negative cable removed
Shape = Literal["circle", "trapezoid", "rectangle"]


class Role(StrEnum):
    """What a cavity is for."""

    BATTERY_NEGATIVE = "battery_negative"
    BATTERY_POSITIVE = "battery_positive"
    SIGNAL_GROUND = "signal_ground"
    CAN_HIGH = "can_high"
    CAN_LOW = "can_low"
    SHIELD = "shield"
    J1708_PLUS = "j1708_plus"
    J1708_MINUS = "j1708_minus"
    OTHER_LINK = "other_link"
    MAKER_SPECIFIC = "maker_specific"
    UNUSED = "unused"


@dataclass(frozen=True, slots=True)
class Wire:
    """The wire behind a cavity: gauge as written ("18 AWG", "0.8 mm²"), its copper area, and its range of lengths."""

    gauge: str
    area_mm2: float
    min_m: float
    max_m: float
    source: str


@dataclass(frozen=True, slots=True)
class Fuse:
    """The fuse that feeds a cavity."""

    rating_amps: float
    source: str


@dataclass(frozen=True, slots=True)
class Cavity:
    """One place for a terminal. `network` is the number of a CAN pair's network, else None."""

    label: str
    role: Role
    x: float
    y: float
    source: str
    network: int | None = None
    wire: Wire | None = None
    fuse: Fuse | None = None
    note: str = ""


@dataclass(frozen=True, slots=True)
class Network:
    """A CAN network and its bit rate in bit/s."""

    number: int
    bit_rate: int
    source: str
    note: str = ""


@dataclass(frozen=True, slots=True)
class Check:
    """What a meter should say between two points of a sound vehicle.

    Attributes:
        red, black: a cavity's label, or one of `POINTS`.
        quantity: what the meter is set to; `low`, `high` and `typical` are in volts or ohms.
        low, high: the band; None where it is open on that side (OL is inside a band without `high`).
        power: the state it holds in. Ohms are only ever taken with the battery off.
        system_volts: 12 or 24 where the band is for that system only, else None.

    """

    red: str
    black: str
    quantity: Quantity
    power: Power
    low: float | None
    high: float | None
    source: str
    typical: float | None = None
    system_volts: float | None = None
    note: str = ""


@dataclass(frozen=True, slots=True)
class Caution:
    """Something that can hurt a person or a truck."""

    text: str
    source: str


@dataclass(frozen=True, slots=True)
class Pinout:
    """A diagnostic connector. `name` is its file's name; `face_source` says where the face's layout comes from."""

    name: str
    title: str
    shape: Shape
    face_source: str
    cavities: tuple[Cavity, ...]
    networks: tuple[Network, ...] = ()
    checks: tuple[Check, ...] = ()
    cautions: tuple[Caution, ...] = ()

    def cavity(self, label: str) -> Cavity:
        """The cavity of that label.

        Raises:
            KeyError: there is none.

        """
        for cavity in self.cavities:
            if cavity.label == label:
                return cavity
        raise KeyError(label)


@dataclass(frozen=True, slots=True)
class Module:
    """A control module: source address, plain name, number of the network it talks on.

    `at_m` is where its stub leaves the backbone, `stub_m` the stub's length; None where the file does not say. Modules
    with the same `branch` hang on one common stub, modules with the same `feed` on one fuse or ground; empty: its own.
    """

    address: int
    name: str
    network: int
    note: str = ""
    at_m: float | None = None
    stub_m: float | None = None
    branch: str = ""
    feed: str = ""


@dataclass(frozen=True, slots=True)
class Terminator:
    """A terminating resistor: network, where it sits in words, ohms, and in metres along the backbone if known."""

    network: int
    place: str
    ohms: float
    at_m: float | None = None


@dataclass(frozen=True, slots=True)
class Vehicle:
    """A vehicle as its network sees it. `pinout` is the name or path of its diagnostic connector's pinout.

    `connector_at_m` is where the connector's stub leaves the backbone, None where the file does not say.
    """

    name: str
    title: str
    pinout: str
    system_volts: float
    networks: tuple[Network, ...]
    modules: tuple[Module, ...]
    terminators: tuple[Terminator, ...] = ()
    connector_at_m: float | None = None

    def addresses(self, network: int) -> frozenset[int]:
        """Source addresses expected on one network."""
        return frozenset(module.address for module in self.modules if module.network == network)
