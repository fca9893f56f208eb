"""What a fault is, as data: one row of the catalogue.

A row says what the trade calls the fault, how likely it is and why one thinks so, what repairs it, what may have
caused it, which readings prove it before and after the repair, and what it is mistaken for. What it does to the
circuit, and how far it goes, is the knob of the same name (`circuit.knobs`). Checks are named by their ids.

All rows are common practice, no source, unless one is named; nobody publishes how often these faults occur.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

__all__ = ["Cause", "Fault", "LookAlike", "Proof", "Proofs", "Subsystem", "any_of", "together"]

Subsystem = Literal["supply", "can", "module", "adapter", "j1708"]


@dataclass(frozen=True, slots=True)
class Proof:
    """A reading that shows the fault, or that it is gone.

    Attributes:
        check: id of the check.
        low, high: bounds in volts or ohms; infinite ohms are OL. Volts are those of a 12 V truck.
        shows: categories instead of bounds, for what is seen or shown.
        follows_system: bounds double on a 24 V truck.

    """

    check: str
    low: float = -math.inf
    high: float = math.inf
    shows: tuple[str, ...] = ()
    follows_system: bool = False

    def met(self, value: float | str, system_volts: float = 12.0) -> bool:
        """Whether a reading is such a one."""
        if isinstance(value, str):
            return value in self.shows
        factor = system_volts / 12.0 if self.follows_system else 1.0
        return self.low * factor <= value <= self.high * factor


Proofs = tuple[tuple[Proof, ...], ...]  # any of these, each of which is readings taken together


def any_of(*readings: Proof) -> Proofs:
    """Each of these proves it by itself."""
    return tuple((reading,) for reading in readings)


def together(*readings: Proof) -> Proofs:
    """These prove it together."""
    return (readings,)


@dataclass(frozen=True, slots=True)
class Cause:
    """What may lie behind a fault.

    Attributes:
        text: in trade words, as a noun.
        fault: id of the fault that it would be, if it is one of the catalogue.
        check: id of a check that would show it.

    """

    text: str
    fault: str | None = None
    check: str | None = None


@dataclass(frozen=True, slots=True)
class LookAlike:
    """A fault that reads alike in most checks, and what splits the two.

    Attributes:
        fault: id of the other.
        check: id of the check that splits them; None where no meter at the connector can.
        how: what it reads in either case.

    """

    fault: str
    check: str | None
    how: str


@dataclass(frozen=True, slots=True)
class Fault:
    """One row of the catalogue.

    Attributes:
        id: its name, also the name of its knob.
        title: what the trade calls it.
        subsystem: where it is.
        odds: how likely it is beside the others; only ratios count.
        judgement: why one thinks so.
        repair: id of what repairs it.
        causes: what may have caused it.
        proof: readings that show it and hardly anything else; one of these sets has to be taken before it is called
            proven. Empty: no meter at the connector proves it.
        after: readings that show it is gone.
        look_alikes: what it is mistaken for.
        caution: what to mind before touching it; empty where nothing special.

    """

    id: str
    title: str
    subsystem: Subsystem
    odds: float
    judgement: str
    repair: str
    causes: tuple[Cause, ...]
    proof: Proofs
    after: tuple[Proof, ...]
    look_alikes: tuple[LookAlike, ...] = ()
    caution: str = ""
