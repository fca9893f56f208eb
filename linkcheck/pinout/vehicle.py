"""What the keys of a vehicle's file mean: modules with their source addresses, networks, terminators.

Takes the file's sections, notes every problem, and gives a `Vehicle`, as `connector` does for connectors.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from linkcheck.pinout.connector import network_number, networks, system_volts
from linkcheck.pinout.schema import Module, Terminator, Vehicle
from linkcheck.pinout.section import Section

__all__ = ["vehicle"]

LONGEST_M = 200.0  # of a vehicle's backbone and stubs
LAST_ADDRESS = 253  # 254 is "no address", 255 is "everyone" (Linux kernel, Documentation/networking/j1939.rst)


def vehicle(root: Section, name: str) -> Vehicle:
    """A vehicle from the top section of its file; `name` is the file's own name."""
    title, pinout = root.text("title"), root.text("pinout")
    volts = system_volts(root, required=True) or 0.0
    buses = tuple(networks(root, required=True))
    numbers = [network.number for network in buses]
    modules = tuple(_modules(root, numbers))
    terminators = tuple(_terminators(root, numbers))
    connector_at = _metres(root, "connector_at")
    root.finish()
    return Vehicle(name, title, pinout, volts, buses, modules, terminators, connector_at)


def _modules(root: Section, numbers: Sequence[int]) -> Iterator[Module]:
    seen: set[tuple[int | None, int | None]] = set()
    for section in root.tables("module", required=True):
        address = section.integer("address", 0, LAST_ADDRESS)
        number = network_number(section, numbers)
        if (number, address) in seen:
            section.problem("address", f"address {address} is used twice on network {number}.")
        seen.add((number, address))
        yield Module(
            address or 0,
            section.text("name"),
            number or 0,
            section.text("note", ""),
            _metres(section, "at"),
            _metres(section, "stub"),
            section.text("branch", ""),
            section.text("feed", ""),
        )
        section.finish()


def _terminators(root: Section, numbers: Sequence[int]) -> Iterator[Terminator]:
    for section in root.tables("terminator"):
        ohms = section.quantity("resistance", "ohm")
        if ohms is not None and ohms <= 0:
            section.problem("resistance", "is not more than 0 ohm.")
        yield Terminator(
            network_number(section, numbers) or 0, section.text("place"), ohms or 0.0, _metres(section, "at")
        )
        section.finish()


def _metres(section: Section, key: str) -> float | None:
    """A length that may be left out."""
    metres = section.quantity(key, "m", required=False)
    if metres is not None and not 0.0 <= metres <= LONGEST_M:
        section.problem(key, f"is not between 0 and {LONGEST_M:g} m.")
        return None
    return metres
