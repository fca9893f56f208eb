"""Fault confinement of one CAN controller: its two error counters and the state that follows from them.

One method a rule, so that the bus reads like the standard. Nothing here knows about frames, time or other nodes.
Rules: ISO 11898-1, fault confinement; the same rules stand, freely readable, in the CAN Specification 2.0 (September
1991), part B, section 8, whose numbers the comments quote.
"""

from __future__ import annotations

import enum
from dataclasses import dataclass

__all__ = ["BUS_OFF_LIMIT", "PASSIVE_LIMIT", "RECOVERY_SEQUENCES", "WARNING_LIMIT", "ErrorCounters", "ErrorState"]

WARNING_LIMIT = 96  # "an error count value greater than about 96 indicates a heavily disturbed bus" (section 8, note)
PASSIVE_LIMIT = 128  # rule 9
BUS_OFF_LIMIT = 256  # rule 10
RECOVERY_SEQUENCES = 128  # rule 12: occurrences of 11 consecutive recessive bits
AFTER_PASSIVE = 127  # rule 8: "a value between 119 and 127"; which one is the maker's choice


class ErrorState(enum.IntEnum):
    """What a controller is allowed to do, in the order of growing trouble."""

    ACTIVE = 0
    WARNING = 1  # still error-active; the limit drivers report
    PASSIVE = 2
    BUS_OFF = 3


@dataclass(slots=True)
class ErrorCounters:
    """Transmit and receive error counter of one controller.

    A bus-off controller counts nothing until `restart`.
    """

    transmit: int = 0
    receive: int = 0

    @property
    def state(self) -> ErrorState:
        """State by the worse of the two counters; only the transmit counter leads to bus-off."""
        if self.transmit >= BUS_OFF_LIMIT:
            return ErrorState.BUS_OFF
        worse = max(self.transmit, self.receive)
        if worse >= PASSIVE_LIMIT:
            return ErrorState.PASSIVE
        return ErrorState.WARNING if worse >= WARNING_LIMIT else ErrorState.ACTIVE

    @property
    def active(self) -> bool:
        """Whether an error flag of this controller is dominant (rule 9: the one that makes it passive still is)."""
        return self.state <= ErrorState.WARNING

    def received_error(self, *, dominant_after_flag: bool = False) -> None:
        """Rules 1 and 2: +1 for an error seen as receiver, +8 more if it was first to flag it."""
        self.receive += 9 if dominant_after_flag else 1

    def received(self) -> None:
        """Rule 8: -1 for a good frame; from above 127 straight to a value between 119 and 127."""
        if self.receive > AFTER_PASSIVE:
            self.receive = AFTER_PASSIVE
        elif self.receive:
            self.receive -= 1

    def sent_error_flag(self) -> None:
        """Rule 3: +8 for every error flag sent as transmitter."""
        self.transmit += 8

    def not_acknowledged(self) -> None:
        """Rule 3 with its exception 1: a passive transmitter that nobody contradicts does not count a missing ACK."""
        if self.active:
            self.sent_error_flag()

    def sent(self) -> None:
        """Rule 7: -1 for a frame sent and acknowledged."""
        if self.transmit:
            self.transmit -= 1

    def restart(self) -> None:
        """Rule 12: back to error-active with both counters at zero."""
        self.transmit = self.receive = 0
