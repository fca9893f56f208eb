"""One network of a vehicle as a row along its backbone: terminators, modules, connector, and what modules share.

Built from the vehicle's file. Where it gives no places, its order is taken as the order along the backbone, and
`notes` say so.
"""

from __future__ import annotations

from dataclasses import dataclass

from linkcheck.errors import UsageError
from linkcheck.pinout.schema import Module, Vehicle

__all__ = ["Backbone", "backbone"]


@dataclass(frozen=True, slots=True)
class Backbone:
    """A network in order.

    Attributes:
        modules: along the backbone, from terminator 1 to terminator 2.
        terminators: ohms of both, None where the file has none there.
        places: of both, in the file's words.
        connector: how many modules lie before the connector's junction; None where nobody knows.
        notes: what was assumed.

    """

    modules: tuple[Module, ...]
    terminators: tuple[float | None, float | None]
    places: tuple[str, str]
    connector: int | None
    notes: tuple[str, ...]

    @property
    def addresses(self) -> tuple[int, ...]:
        """Of the modules, in order."""
        return tuple(module.address for module in self.modules)

    def shared(self, kind: str) -> dict[str, frozenset[int]]:
        """Addresses of two modules and more that name the same "branch" or "feed"."""
        groups: dict[str, set[int]] = {}
        for module in self.modules:
            name = module.branch if kind == "branch" else module.feed
            if name:
                groups.setdefault(name, set()).add(module.address)
        return {name: frozenset(members) for name, members in groups.items() if len(members) > 1}


def backbone(vehicle: Vehicle, network: int = 1) -> Backbone:
    """One of a vehicle's networks.

    Raises:
        UsageError: fewer than two modules are on it.

    """
    modules = [module for module in vehicle.modules if module.network == network]
    if len(modules) < 2:
        raise UsageError(
            f"{vehicle.name} has {len(modules)} modules on network {network}: there is no backbone to search.",
            todo="Name the network with --network, or add modules to the vehicle's file.",
        )
    notes = []
    known = all(module.at_m is not None for module in modules)
    if known:
        modules.sort(key=lambda module: module.at_m or 0.0)
    else:
        notes.append("The vehicle's file does not say where every module sits: its order is taken as the backbone's.")
    connector = None
    if known and vehicle.connector_at_m is not None:
        connector = sum((module.at_m or 0.0) < vehicle.connector_at_m for module in modules)
    else:
        notes.append(
            "Where the connector's stub leaves the backbone is not known: both sides of a break are reckoned with."
        )
    ends = [terminator for terminator in vehicle.terminators if terminator.network == network]
    if all(end.at_m is not None for end in ends):
        ends.sort(key=lambda end: end.at_m or 0.0)
    ohms = [end.ohms for end in ends[:2]] + [None] * (2 - len(ends[:2]))
    places = [end.place for end in ends[:2]] + [""] * (2 - len(ends[:2]))
    return Backbone(tuple(modules), (ohms[0], ohms[1]), (places[0], places[1]), connector, tuple(notes))
