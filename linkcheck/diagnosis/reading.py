"""What was read: the value of a check with its uncertainty, and the assumptions under which it is weighed."""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["Assumptions", "Taken"]


@dataclass(frozen=True, slots=True)
class Taken:
    """A reading that was taken.

    Attributes:
        check: id of the check.
        value: volts, ohms (infinite: OL) or a category's word.
        uncertainty: standard uncertainty of the meter at this reading, in volts or ohms.

    """

    check: str
    value: float | str
    uncertainty: float = 0.0


@dataclass(frozen=True, slots=True)
class Assumptions:
    """How readings are weighed. The defaults were chosen by measurement (see DEVELOPERS).

    Attributes:
        slip: chance that a reading is a slip of hand: the wrong point, a lead without contact, a wrong digit.
        no_contact: share of slips that read like leads in the air (0 V, OL); the others could be anything.
        redraw: chance that a truck differs from each sampled one in a reading, so that the reading is as likely as
            on any of the fault's trucks. 0: readings hang together as on one sampled truck; 1: they are independent
            given the fault.
        temper: power to which the likelihood of each subsystem is taken; below 1 it is trusted less.
        tolerance: the scale's unit is multiplied by this.
        unknown: prior chance that the fault is none of those known.
        pair: prior odds of a second fault in addition to a first.

    """

    slip: float = 0.02
    no_contact: float = 0.3
    redraw: float = 0.2
    temper: float = 1.0
    tolerance: float = 1.5
    unknown: float = 0.01
    pair: float = 0.12
