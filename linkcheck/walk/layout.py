"""What a connector has: which checks and faults make sense on it, and what its cavities are called.

The circuit speaks of a nine-pin connector's letters; here they are turned into the labels of the connector at hand, by
the roles in its pinout. A cavity that the pinout does not have takes its checks and faults with it.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from linkcheck.circuit import CAVITIES, Equipment, cavity_of_role
from linkcheck.errors import UsageError
from linkcheck.faults.catalogue import faults_for
from linkcheck.pinout import Pinout
from linkcheck.walk.checks import Check
from linkcheck.walk.table import checks_for

__all__ = ["Layout", "layout_of"]

_LETTER = re.compile(rf"(?<![A-Za-z0-9_.])[{''.join(CAVITIES)}](?![A-Za-z0-9_])")
# A frame's own walk: the quantities that a meter and an adapter answer, in states every program knows (no drain wire).
_BY_EYE = ("heard", "look")


@dataclass(frozen=True)
class Layout:
    """A kind of truck at a kind of connector.

    Attributes:
        equipment: for the circuit.
        labels: the circuit's letter to the connector's label, of the cavities it has.

    """

    equipment: Equipment
    labels: Mapping[str, str]

    def named(self, text: str) -> str:
        """A point ("B.wire"), a fault's id or a sentence, with the connector's own labels."""
        return _LETTER.sub(lambda match: self.labels.get(match[0], match[0]), text)

    def checks(self, *, by_eye: bool, looks: bool = True) -> tuple[Check, ...]:
        """The checks that can be made here.

        Args:
            by_eye: also those that a meter does not answer (addresses heard, what is seen, the drain wire lifted).
            looks: among these, what is seen.

        """
        return tuple(
            check
            for check in checks_for(self.equipment)
            if self._has(check.red)
            and self._has(check.black)
            and (self.can or check.subsystem in ("supply", "j1708", "look"))
            if by_eye or not (check.quantity in _BY_EYE or "drain" in check.state.unplugged)
            if looks or check.quantity != "look"
        )

    def faults(self) -> tuple[str, ...]:
        """Ids of the faults that can be here, "none" first."""
        here = faults_for(j1708=self.equipment.j1708 is not False, shield=self.equipment.shield is not False)
        subsystems = ("supply", "can", "module", "adapter", "j1708") if self.can else ("supply", "j1708")
        return tuple(
            fault.id
            for fault in here
            if fault.id == "none" or (fault.subsystem in subsystems and self._has_cavities(fault.id))
            if self.can or fault.id != "key_supply_dead"
        )

    @property
    def can(self) -> bool:
        """A CAN pair is on the connector."""
        return "C" in self.labels

    def _has(self, point: str) -> bool:
        letter = point.split(".", maxsplit=1)[0]
        return letter not in CAVITIES or letter in self.labels

    def _has_cavities(self, fault: str) -> bool:
        return all(letter in self.labels for letter in _LETTER.findall(fault.partition(":")[2]))


def layout_of(
    pinout: Pinout,
    *,
    system_volts: float = 12.0,
    bit_rate: int | None = None,
    j1708: bool = True,
    shield: bool | None = None,
) -> Layout:
    """The layout of a pinout.

    Args:
        pinout: the connector.
        system_volts: 12 or 24.
        bit_rate: of the CAN pair, in bit/s; the pinout's own where not given.
        j1708: False where the truck has no J1708 pair though the connector has room for it.
        shield: whether a shield is fitted; None where nobody knows.

    Raises:
        UsageError: the connector has no battery positive or negative, or such a truck cannot be.

    """
    labels: dict[str, str] = {}
    for cavity in pinout.cavities:
        letter = cavity_of_role(cavity.role, cavity.network)
        if letter is not None:
            labels.setdefault(letter, cavity.label)
    if not {"A", "B"} <= set(labels):
        raise UsageError("a walk needs battery positive and negative on the connector.", where=pinout.name)
    if not j1708 or not {"F", "G"} <= set(labels):
        labels = {letter: label for letter, label in labels.items() if letter not in "FG"}
    if shield is False:
        labels.pop("E", None)
    rate = bit_rate or next((network.bit_rate for network in pinout.networks if network.number == 1), 250_000)
    equipment = Equipment(
        system_volts=system_volts,
        j1708="F" in labels,
        shield=shield if "E" in labels else False,
        second_can=None if "H" in labels else False,
        bit_rate=float(rate),
    )
    return Layout(equipment, MappingProxyType(labels))
