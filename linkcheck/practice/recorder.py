"""A recorder on the simulated bus: what a Linux CAN interface would have written down.

Whole frames are stamped at the end of their end-of-frame field, errors at the end of the bit that gave them away, both
in whole microseconds. Error frames follow Linux include/uapi/linux/can/error.h; which of its bits come together
follows the kernel's common code and drivers (drivers/net/can/dev/dev.c, can_change_state; bus errors as class PROT
and BUSERROR with kind and place, counters with class CNT, none with bus-off) - from memory, and drivers differ.

A recorder sees only its own controller: another module's bus-off shows as its silence, never as an error frame.
"""

from __future__ import annotations

from linkcheck.frames import ERROR, EXTENDED, FrameBatch
from linkcheck.practice.confinement import PASSIVE_LIMIT, WARNING_LIMIT, ErrorState
from linkcheck.practice.controller import Controller
from linkcheck.practice.signalling import BusError, ErrorKind
from linkcheck.practice.wire import Frame, Place, on_the_wire

__all__ = ["Recorder", "as_batch"]

Row = tuple[int, int, int, bytes]  # time in nanoseconds of the recorder, identifier, flags, data

_CONTROLLER, _PROTOCOL, _NO_ACK, _BUS_OFF, _BUS_ERROR, _RESTARTED, _COUNTERS = 4, 8, 0x20, 0x40, 0x80, 0x100, 0x200
_SENDING = 0x80  # data[2]: the error occurred on transmission
_KIND_BITS = {
    ErrorKind.STUFF: 0x04,
    ErrorKind.FORM: 0x02,
    ErrorKind.CRC: 0,  # told by its place
    ErrorKind.BIT_0: 0x08,
    ErrorKind.BIT_1: 0x10,
    ErrorKind.ACK: 0,  # has a class of its own
}
# data[1] by state, for the transmit and for the receive counter
_TRANSMIT_BITS = {ErrorState.ACTIVE: 0x40, ErrorState.WARNING: 0x08, ErrorState.PASSIVE: 0x20}
_RECEIVE_BITS = {ErrorState.ACTIVE: 0x40, ErrorState.WARNING: 0x04, ErrorState.PASSIVE: 0x10}


class Recorder:
    """Writes down what one controller sees.

    Args:
        controller: the controller it listens with.
        bit_rate: of its bus, bits per second.
        begin_ns: when it is switched on; its own time counts from there.
        deaf: times (from, to) in nanoseconds during which its plug has no contact.

    """

    def __init__(
        self, controller: Controller, bit_rate: int, *, begin_ns: int = 0, deaf: tuple[tuple[int, int], ...] = ()
    ) -> None:
        self.begin_ns = begin_ns
        self._controller = controller
        self._bit_rate = bit_rate
        self._deaf = deaf
        self.states: list[ErrorState] = []
        self._state = ErrorState.ACTIVE
        self.rows: list[Row] = []
        controller.drivers.append(self)

    def on_frame(self, time_ns: int, frame: Frame, *, own: bool) -> None:  # noqa: ARG002  own frames are recorded too
        """Write a frame down, unless the plug had no contact while it passed."""
        start_ns = time_ns - len(on_the_wire(frame).levels) * 1_000_000_000 // self._bit_rate
        for lost_ns, back_ns in self._deaf:
            if start_ns < back_ns and lost_ns < time_ns:
                self._cut_short(start_ns, time_ns, lost_ns, back_ns)
                return
        flags = EXTENDED if frame.extended else 0
        self._write(time_ns, frame.identifier, flags, frame.data)
        self._note_state(time_ns)

    def on_error(self, time_ns: int, error: BusError) -> None:
        """Write a bus error down, and the new state if it changed."""
        if any(lost_ns < time_ns < back_ns for lost_ns, back_ns in self._deaf):
            return
        classes = _PROTOCOL | _BUS_ERROR | (_NO_ACK if error.kind is ErrorKind.ACK else 0)
        place = Place.CRC if error.kind is ErrorKind.CRC else error.place
        kind = _KIND_BITS[error.kind] | (_SENDING if error.sending else 0)
        self._write_error(time_ns, classes, {2: kind, 3: place})
        self._note_state(time_ns)

    def on_restart(self, time_ns: int) -> None:
        """Write down that the controller was restarted; that it is error-active now goes without saying."""
        self._state = self._controller.counters.state
        self.states.append(self._state)
        self._write_error(time_ns, _RESTARTED, {})

    def _cut_short(self, start_ns: int, end_ns: int, lost_ns: int, back_ns: int) -> None:
        """A frame of which the recorder saw one end only: six recessive bits too many, or a start out of nowhere."""
        if lost_ns > start_ns:
            self._write_error(lost_ns, _PROTOCOL | _BUS_ERROR, {2: _KIND_BITS[ErrorKind.STUFF], 3: Place.DATA})
        elif back_ns < end_ns:
            self._write_error(back_ns, _PROTOCOL | _BUS_ERROR, {2: _KIND_BITS[ErrorKind.FORM], 3: Place.DATA})

    def _note_state(self, time_ns: int) -> None:
        counters = self._controller.counters
        if counters.state is self._state:
            return
        self._state = counters.state
        self.states.append(self._state)
        if self._state is ErrorState.BUS_OFF:
            self._write_error(time_ns, _BUS_OFF, {})
            return
        transmit, receive = _level(counters.transmit), _level(counters.receive)
        bits = _TRANSMIT_BITS[transmit] if transmit >= receive else 0
        bits |= _RECEIVE_BITS[receive] if receive >= transmit else 0
        self._write_error(time_ns, _CONTROLLER, {1: bits})

    def _write_error(self, time_ns: int, classes: int, details: dict[int, int]) -> None:
        data = bytearray(8)
        for place, value in details.items():
            data[place] = value
        counters = self._controller.counters
        if classes not in (_BUS_OFF, _RESTARTED):
            classes |= _COUNTERS
            data[6], data[7] = min(counters.transmit, 255), min(counters.receive, 255)
        self._write(time_ns, classes, ERROR, bytes(data))

    def _write(self, time_ns: int, identifier: int, flags: int, data: bytes) -> None:
        if time_ns >= self.begin_ns:
            microseconds = (time_ns - self.begin_ns + 500) // 1000
            self.rows.append((microseconds * 1000, identifier, flags, data))


def as_batch(recorders: dict[str, Recorder], start_ns: int) -> FrameBatch:
    """What several recorders wrote, by interface name, as one capture in order of time."""
    rows = [
        (start_ns + time_ns, channel, identifier, flags, len(data), data)
        for channel, recorder in enumerate(recorders.values())
        for time_ns, identifier, flags, data in recorder.rows
    ]
    rows.sort(key=lambda row: row[0])
    return FrameBatch.from_rows(rows, tuple(recorders))


def _level(counter: int) -> ErrorState:
    if counter >= PASSIVE_LIMIT:
        return ErrorState.PASSIVE
    return ErrorState.WARNING if counter >= WARNING_LIMIT else ErrorState.ACTIVE
