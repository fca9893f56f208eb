"""Every fault that is known, and the sound truck; one table, made of the subsystems' tables.

To add a fault: a row in the table of its subsystem, and a knob of the same name in `circuit.knobs`.
"""

from __future__ import annotations

from collections.abc import Iterator

from linkcheck.faults.adapter import ADAPTER_FAULTS
from linkcheck.faults.can import CAN_FAULTS
from linkcheck.faults.fault import Fault, Proof, any_of
from linkcheck.faults.j1708 import J1708_FAULTS
from linkcheck.faults.module import MODULE_FAULTS
from linkcheck.faults.supply import SUPPLY_FAULTS

__all__ = ["FAULTS", "NONE_OF_THESE", "faults_for", "prior_odds"]

NONE_OF_THESE = "none_of_these"  # the answer when no row fits; it has no predictions

SOUND_TRUCK = Fault(
    id="none",
    title="Nothing wrong with the data link now",
    subsystem="can",
    odds=8.0,
    judgement="Many complaints come and go; then the link measures good.",
    repair="none",
    causes=(),
    proof=any_of(Proof("listen:own", shows=("frames",))),
    after=(Proof("listen:own", shows=("frames",)), Proof("ohms:C-D:dead", 50.0, 70.0)),
)

FAULTS: dict[str, Fault] = {
    fault.id: fault
    for fault in (SOUND_TRUCK, *SUPPLY_FAULTS, *ADAPTER_FAULTS, *CAN_FAULTS, *MODULE_FAULTS, *J1708_FAULTS)
}


def faults_for(*, j1708: bool = True, shield: bool = True) -> Iterator[Fault]:
    """The faults that a truck can have, by what is fitted to it."""
    for fault in FAULTS.values():
        needs_shield = fault.id.endswith("-shield")
        if (j1708 or fault.subsystem != "j1708") and (shield or not needs_shield):
            yield fault


def prior_odds(*, j1708: bool = True, shield: bool = True) -> dict[str, float]:
    """Odds of each fault that such a truck can have; only ratios count."""
    return {fault.id: fault.odds for fault in faults_for(j1708=j1708, shield=shield)}
