"""What the keys of a connector's file mean, and what must fit together in it.

Takes the file's sections, notes every problem, and gives a `Pinout`; `load` refuses the file if anything was noted.
Safety is a rule of the format: ohms are only described with the battery off. Networks and the system voltage are
written the same way in a vehicle's file, which borrows them from here.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Sequence
from typing import cast, get_args

from linkcheck.pinout.schema import (
    POINTS,
    Caution,
    Cavity,
    Check,
    Fuse,
    Network,
    Pinout,
    Power,
    Role,
    Shape,
    Wire,
)
from linkcheck.pinout.section import Section
from linkcheck.quantities import Quantity

__all__ = ["connector", "network_number", "networks", "system_volts"]

SYSTEM_VOLTS = (12.0, 24.0)
BIT_RATES = (10_000, 1_000_000)  # bit/s, slowest and fastest a CAN transceiver is made for
# Cavities nearer than this in both x and y would cover each other in a drawing, round or long.
CLOSEST_ROUND = (0.33, 0.25)
CLOSEST_LONG = (0.16, 0.5)
CAN = (Role.CAN_HIGH, Role.CAN_LOW)
PAIRS = (CAN, (Role.J1708_PLUS, Role.J1708_MINUS))


def connector(root: Section, name: str) -> Pinout:
    """A connector from the top section of its file; `name` is the file's own name."""
    title = root.text("title")
    shape = cast("Shape", root.choice("shape", get_args(Shape)))
    face_source = root.text("face_source")
    pairs = tuple(networks(root))
    cavities = tuple(
        _cavities(root, [network.number for network in pairs], CLOSEST_ROUND if shape == "circle" else CLOSEST_LONG)
    )
    checks = tuple(_checks(root, [cavity.label for cavity in cavities]))
    cautions = tuple(_cautions(root))
    root.finish()
    return Pinout(name, title, shape, face_source, cavities, pairs, checks, cautions)


def networks(root: Section, *, required: bool = False) -> Iterator[Network]:
    """The `[[network]]` tables."""
    seen: set[int] = set()
    for section in root.tables("network", required=required):
        number = section.integer("number", 1, 99) or 0
        if number in seen:
            section.problem("number", f"network {number} is described twice.")
        seen.add(number)
        rate = section.quantity("bit_rate", "bit/s")
        if rate is not None and not BIT_RATES[0] <= rate <= BIT_RATES[1]:
            section.problem("bit_rate", "is not from 10 kbit/s to 1000 kbit/s.")
        yield Network(number, round(rate or 0), section.text("source"), section.text("note", ""))
        section.finish()


def network_number(section: Section, numbers: Sequence[int], *, required: bool = True) -> int | None:
    """The key network: the number of a network this file describes."""
    number = section.integer("network", 1, 99, required=required)
    if number is not None and number not in numbers:
        known = ", ".join(map(str, numbers)) or "none"
        section.problem("network", f"there is no [[network]] with number {number}; there is {known}.")
    return number


def _cavities(root: Section, numbers: Sequence[int], closest: tuple[float, float]) -> Iterator[Cavity]:
    seen: list[Cavity] = []
    for section in root.tables("cavity", required=True):
        role = Role(section.choice("role", tuple(Role)) or Role.UNUSED)
        number = network_number(section, numbers, required=role in CAN)
        if number is not None and role not in CAN:
            section.problem("network", "only can_high and can_low belong to a network.")
        cavity = Cavity(
            _label(section),
            role,
            section.number("x", -1, 1),
            section.number("y", -1, 1),
            section.text("source"),
            number,
            _wire(section),
            _fuse(section),
            section.text("note", ""),
        )
        section.finish()
        _fits(cavity, seen, closest, section)
        seen.append(cavity)
        yield cavity
    for plus, minus in PAIRS:
        ends = [{cavity.network for cavity in seen if cavity.role == role} for role in (plus, minus)]
        if ends[0] != ends[1]:
            root.problem("cavity", f"every {plus} needs a {minus} of the same network, and the other way round.")


def _label(section: Section) -> str:
    label = section.text("label")
    if label and not re.fullmatch(r"[A-Za-z0-9]{1,3}", label):
        section.problem("label", f'"{label}" is not one to three letters or digits.')
    return label


def _fits(cavity: Cavity, others: Sequence[Cavity], closest: tuple[float, float], section: Section) -> None:
    """Note a label or a role used twice, and a place already taken."""
    for other in others:
        if cavity.label == other.label:
            section.problem("label", f'there are two cavities "{cavity.label}".')
        same = (cavity.role, cavity.network) == (other.role, other.network)
        if same and any(cavity.role in pair for pair in PAIRS):
            section.problem("role", f"cavity {other.label} is already {cavity.role}.")
        if abs(cavity.x - other.x) < closest[0] and abs(cavity.y - other.y) < closest[1]:
            section.problem(
                "x", f"sits on cavity {other.label}; keep {closest[0]:g} between them, or {closest[1]:g} in y."
            )


def _wire(section: Section) -> Wire | None:
    table = section.table("wire")
    if table is None:
        return None
    gauge, shortest, longest = table.text("gauge"), table.quantity("min", "m"), table.quantity("max", "m")
    if shortest is not None and longest is not None and not 0 <= shortest <= longest:
        table.problem("min", "is more than max, or less than nothing.")
    wire = Wire(gauge, _area_mm2(gauge, table), shortest or 0.0, longest or 0.0, table.text("source"))
    table.finish()
    return wire


def _area_mm2(gauge: str, table: Section) -> float:
    """Copper area of "18 AWG" or "0.8 mm²".

    AWG by its defining formula, d = 0.005 in x 92^((36 - n) / 39) (ASTM B258).
    """
    if match := re.fullmatch(r"(\d{1,2}) ?AWG", gauge):
        diameter_mm = 0.005 * 25.4 * math.pow(92, (36 - int(match[1])) / 39)
        return math.pi / 4 * diameter_mm**2
    area = table.quantity("gauge", "mm²") if gauge.endswith("mm²") else None
    if area is None and gauge:
        table.problem("gauge", f'"{gauge}" is not a gauge like "18 AWG" or "0.8 mm²".')
    return area or 0.0


def _fuse(section: Section) -> Fuse | None:
    table = section.table("fuse")
    if table is None:
        return None
    rating = table.quantity("rating", "A")
    if rating is not None and rating <= 0:
        table.problem("rating", "is not more than 0 A.")
    fuse = Fuse(rating or 0.0, table.text("source"))
    table.finish()
    return fuse


def _checks(root: Section, labels: Sequence[str]) -> Iterator[Check]:
    for section in root.tables("check"):
        places = [*filter(None, labels), *POINTS]
        red, black = section.choice("red", places), section.choice("black", places)
        if red and red == black:
            section.problem("black", f'both leads are on "{red}".')
        quantity = cast("Quantity", section.choice("quantity", get_args(Quantity)))
        power = cast("Power", section.choice("power", get_args(Power)))
        if quantity == "ohms" and power and power != "battery_off":
            section.problem("power", f'"{power}" is not safe for ohms; it takes battery_off.')
        low, high, typical = _band(section, "ohm" if quantity == "ohms" else "V")
        yield Check(
            red,
            black,
            quantity,
            power,
            low,
            high,
            section.text("source"),
            typical,
            system_volts(section, required=False),
            section.text("note", ""),
        )
        section.finish()


def _band(section: Section, unit: str) -> tuple[float | None, float | None, float | None]:
    """The keys low, high and typical."""
    low, high, typical = (section.quantity(key, unit, required=False) for key in ("low", "high", "typical"))
    if low is None and high is None:
        section.problem("low", "missing, and so is high; a check takes at least one of them.")
    ascending = [value for value in (low, typical, high) if value is not None]
    if ascending != sorted(ascending):
        section.problem("low", "low, typical and high are not in ascending order.")
    return low, high, typical


def system_volts(section: Section, *, required: bool) -> float | None:
    """The key system_voltage: 12 or 24."""
    volts = section.quantity("system_voltage", "V", required=required)
    if volts is not None and volts not in SYSTEM_VOLTS:
        section.problem("system_voltage", f'{volts:g} V is not one of "12 V", "24 V".')
    return volts


def _cautions(root: Section) -> Iterator[Caution]:
    for section in root.tables("caution"):
        yield Caution(section.text("text"), section.text("source"))
        section.finish()
