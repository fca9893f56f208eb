"""One CAN controller on the simulated bus: what waits to be sent, its error counters, its power, and its drivers.

A driver is whatever sits above the controller: a truck module, a recorder, or both. The controller decides nothing
about the bus; `bus` asks it and tells it.
"""

from __future__ import annotations

from bisect import insort
from typing import Protocol

from linkcheck.practice.confinement import BUS_OFF_LIMIT, ErrorCounters
from linkcheck.practice.signalling import BusError
from linkcheck.practice.wire import Frame

__all__ = ["FAR", "Controller", "Driver"]

FAR = 1 << 62  # nanoseconds: a time that never comes


class Driver(Protocol):
    """What sits above a controller. Times are nanoseconds from the start of the simulation."""

    def on_frame(self, time_ns: int, frame: Frame, *, own: bool) -> None:
        """A frame came through whole; `own` when this controller sent it."""

    def on_error(self, time_ns: int, error: BusError) -> None:
        """The controller saw an error; its counters are already up to date."""

    def on_restart(self, time_ns: int) -> None:
        """The controller came back from bus-off."""


class Controller:
    """A controller attached to a bus.

    Args:
        label: for people who debug a scenario.
        acknowledges: False for a listen-only controller, which never sends a dominant bit and counts no errors.
        restart_after_ns: how long after bus-off its driver asks for recovery; None for never.

    """

    def __init__(self, label: str, *, acknowledges: bool = True, restart_after_ns: int | None = None) -> None:
        self.label = label
        self.acknowledges = acknowledges
        self.restart_after_ns = restart_after_ns
        self.drivers: list[Driver] = []
        self.counters = ErrorCounters()
        self.powered = True
        self.power_lost_ns = FAR  # when power will fail next: a frame on its way then is cut short
        self.may_start_ns = 0  # an error-passive sender waits a little longer before its next frame
        self.recovering_since_ns = FAR
        self.recessive_runs = 0  # runs of 11 recessive bits seen while recovering
        self._waiting: list[tuple[str, int, Frame]] = []
        self._serial = 0

    @property
    def on_bus(self) -> bool:
        """Whether it takes part at all."""
        return self.powered and self.counters.transmit < BUS_OFF_LIMIT

    @property
    def waiting(self) -> bool:
        """Whether anything waits to be sent."""
        return bool(self._waiting)

    @property
    def head(self) -> Frame:
        """The waiting frame with the strongest identifier; of equal ones, the oldest."""
        return self._waiting[0][2]

    def offer(self, frame: Frame, *, replace: bool = True) -> None:
        """Ask for a frame to be sent. A newer value takes the place of a waiting one unless it is part of a series."""
        if not self.on_bus:
            return
        if replace:
            self._waiting = [entry for entry in self._waiting if entry[2].identifier != frame.identifier]
        self._serial += 1
        insort(self._waiting, (frame.rank, self._serial, frame))

    def take_head(self) -> None:
        """Take the first frame off the queue: it is through."""
        del self._waiting[0]

    def power(self, *, on: bool) -> None:
        """Switch on with a clean memory, or off."""
        self.powered = on
        self.counters = ErrorCounters()
        self.forget()

    def forget(self) -> None:
        """Drop everything that waits and every recovery under way."""
        self._waiting.clear()
        self.recovering_since_ns, self.recessive_runs = FAR, 0

    def tell_frame(self, time_ns: int, frame: Frame, *, own: bool) -> None:
        """Count a good frame and hand it up."""
        if own:
            self.counters.sent()
        elif self.acknowledges:
            self.counters.received()
        for driver in self.drivers:
            driver.on_frame(time_ns, frame, own=own)

    def tell_error(self, time_ns: int, error: BusError) -> None:
        """Hand an error up, and leave the bus if it was one too many."""
        for driver in self.drivers:
            driver.on_error(time_ns, error)
        if not self.on_bus:
            self.forget()
            if self.restart_after_ns is not None:
                self.recovering_since_ns = time_ns + self.restart_after_ns

    def restart(self, time_ns: int) -> None:
        """Come back from bus-off."""
        self.counters.restart()
        self.forget()
        for driver in self.drivers:
            driver.on_restart(time_ns)
