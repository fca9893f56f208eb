"""SocketCAN, read with the kernel's own time stamps and its count of dropped frames.

The interface belongs to the system: it is on the bus already, and opening it here changes nothing on the wires. So
its bit rate and whether it is silent are read from the kernel, never set.
"""

from __future__ import annotations

import contextlib
import select
import socket
import struct

from linkcheck.errors import UsageError
from linkcheck.frames import BRS, ERROR, ESI, EXTENDED, FD, REMOTE, SENT
from linkcheck.frames.fd import LENGTHS
from linkcheck.frames.records import RECORD_FORMAT
from linkcheck.live.clock import SteadyClock
from linkcheck.live.kernel_link import KernelLink, kernel_links
from linkcheck.live.port import (
    Counters,
    Intake,
    PortEvent,
    PortFacts,
    PortLostError,
    PortRefusedError,
    PortSpec,
    Silence,
)

__all__ = ["SocketCanPort"]

# Linux include/uapi/linux/can.h, can/raw.h, include/uapi/asm-generic/socket.h
_EXTENDED_BIT, _REMOTE_BIT, _ERROR_BIT, _ID_BITS = 0x80000000, 0x40000000, 0x20000000, 0x1FFFFFFF
_HEAD = struct.Struct("=IBB2x")
_CLASSIC_SIZE, _FD_SIZE, _BRS, _ESI = 16, 72, 1, 2
_SOL_CAN_RAW, _ERR_FILTER, _FD_FRAMES = 101, 2, 5
_SO_TIMESTAMPNS, _SO_RXQ_OVFL = 35, 40
_STAMP, _COUNT = struct.Struct("=qq"), struct.Struct("=I")
_RECEIVE_BUFFER = 8 << 20  # the kernel grants what it allows
_MOST = 4096  # frames one read takes


class SocketCanPort:
    """A CAN network interface of this machine.

    Args:
        spec: `channel` is the interface; `bit_rate`, if given, must be the one it has.
        clock: time stamps are put on this clock.
        link: what the kernel says of it. raw: the socket; both for tests.

    Raises:
        PortRefusedError: no such interface, down, another bit rate, or not silent although it must be.

    """

    def __init__(
        self,
        spec: PortSpec,
        clock: SteadyClock | None = None,
        *,
        link: KernelLink | None = None,
        raw: socket.socket | None = None,
    ) -> None:
        self.spec = spec
        self._clock = clock or SteadyClock()
        self._dropped = 0
        self._raw_count = 0
        self._counts = False
        self._socket = raw or _opened(spec)
        link = link or kernel_links().get(spec.channel)
        try:
            self.facts = _facts(spec, link)
        except PortRefusedError:
            self._socket.close()
            raise
        self._socket.settimeout(0)
        self._prepare()
        self._events = [PortEvent(self._clock.now_ns(), "opened", _described(spec, link))]

    def _prepare(self) -> None:
        options = [
            (socket.SOL_SOCKET, socket.SO_RCVBUF, _RECEIVE_BUFFER),
            (socket.SOL_SOCKET, _SO_TIMESTAMPNS, 1),
            (_SOL_CAN_RAW, _ERR_FILTER, _ID_BITS),
            (_SOL_CAN_RAW, _FD_FRAMES, 1),
        ]
        for level, name, value in options:
            with contextlib.suppress(OSError):  # an old kernel may lack one; what is missing shows in the frames
                self._socket.setsockopt(level, name, value)
        with contextlib.suppress(OSError):
            self._socket.setsockopt(socket.SOL_SOCKET, _SO_RXQ_OVFL, 1)
            self._counts = True

    def read(self, timeout_s: float) -> Intake:
        """Whatever has arrived, waiting at most `timeout_s` for the first of it."""
        intake = Intake(events=self._events)
        self._events = []
        try:
            if not select.select([self._socket], [], [], timeout_s)[0]:
                return intake
            for _ in range(_MOST):
                frame, ancillary, flags, _ = self._socket.recvmsg(_FD_SIZE, 128)
                stamp = self._note(ancillary)
                intake.records += _record(frame, stamp, SENT if flags & socket.MSG_DONTROUTE else 0)
        except BlockingIOError:
            pass
        except (OSError, ValueError) as error:
            raise PortLostError(f"The interface is gone or down ({error}).", where=self.spec.channel) from error
        return intake

    def _note(self, ancillary: list[tuple[int, int, bytes]]) -> int:
        """Take the drop counter and the time stamp from what came with a frame."""
        stamp = None
        for level, kind, data in ancillary:
            if level != socket.SOL_SOCKET:
                continue
            if kind == _SO_TIMESTAMPNS:
                seconds, rest = _STAMP.unpack_from(data)
                stamp = self._clock.from_wall(seconds * 1_000_000_000 + rest)
            elif kind == _SO_RXQ_OVFL:
                (count,) = _COUNT.unpack_from(data)
                self._dropped += (count - self._raw_count) & 0xFFFFFFFF  # the kernel's counter wraps
                self._raw_count = count
        return self._clock.now_ns() if stamp is None else stamp

    def counters(self) -> Counters:
        """What the kernel dropped; what the adapter dropped comes as error frames, and is counted from those."""
        return Counters(None, self._dropped if self._counts else None)

    def send(self, identifier: int, flags: int, payload: bytes, length: int | None = None) -> None:
        """Put a frame on the bus; `length` is what a remote frame asks for."""
        if not self.spec.active:
            raise UsageError("This interface was opened to listen only.", where=self.spec.channel)
        word = identifier | (_EXTENDED_BIT if flags & EXTENDED else 0) | (_REMOTE_BIT if flags & REMOTE else 0)
        more = (_BRS if flags & BRS else 0) | (_ESI if flags & ESI else 0)
        size = _FD_SIZE if flags & FD else _CLASSIC_SIZE
        try:
            self._socket.send((_HEAD.pack(word, length or len(payload), more) + payload).ljust(size, b"\0"))
        except OSError as error:
            raise PortRefusedError(
                f"The kernel does not take the frame ({error.strerror}).", reason="busy", where=self.spec.channel
            ) from error

    def close(self) -> None:
        """Close the socket; the interface stays as it is."""
        self._socket.close()


def _record(frame: bytes, time_ns: int, sent: int) -> bytes:
    word, length, more = _HEAD.unpack_from(frame)
    flags = sent
    if word & _ERROR_BIT:
        return RECORD_FORMAT.pack(time_ns, word & _ID_BITS, flags | ERROR, 0, 8, frame[8:16])
    if word & _EXTENDED_BIT:
        flags |= EXTENDED
    if len(frame) == _FD_SIZE:
        flags |= FD | (BRS if more & _BRS else 0) | (ESI if more & _ESI else 0)
        length = max(size for size in LENGTHS if size <= length)
    else:
        length = min(length, 8)
    if word & _REMOTE_BIT:
        return RECORD_FORMAT.pack(time_ns, word & _ID_BITS, flags | REMOTE, 0, length, b"")
    return RECORD_FORMAT.pack(time_ns, word & _ID_BITS, flags, 0, length, frame[8 : 8 + length])


def _facts(spec: PortSpec, link: KernelLink | None) -> PortFacts:
    if link is None:
        silence = Silence.UNKNOWN
        notes: tuple[str, ...] = ("the kernel could not be asked for this interface's bit rate and mode",)
        return PortFacts(_checked(spec, silence), None, "", "kernel", notes)
    if not link.up:
        raise _refused(spec, "The interface is down.", "absent", f"Bring it up: {_silent_command(spec, link)}.")
    if spec.bit_rate and link.bit_rate and spec.bit_rate != link.bit_rate:
        raise _refused(
            spec, f"The interface runs at {link.bit_rate} bit/s, not {spec.bit_rate}.", "rate", "Leave the rate out."
        )
    silence = Silence.NO_BUS if link.virtual else Silence.PROVEN if link.listen_only else Silence.ACTIVE
    notes = () if link.reports_errors or link.virtual else ("bus error reporting is off in the kernel's settings",)
    return PortFacts(_checked(spec, silence, link), link.bit_rate, link.driver or "", "kernel", notes)


def _checked(spec: PortSpec, silence: Silence, link: KernelLink | None = None) -> Silence:
    if silence in (Silence.ACTIVE, Silence.UNKNOWN) and not (spec.active or spec.accept_unproven):
        what = "takes part in the bus: it acknowledges and sends error flags"
        raise _refused(
            spec,
            f"The interface {what if silence is Silence.ACTIVE else 'may take part in the bus, nobody can tell'}.",
            "unproven",
            f"Make it silent ({_silent_command(spec, link)}), or say that it may take part.",
        )
    return silence


def _silent_command(spec: PortSpec, link: KernelLink | None) -> str:
    rate = spec.bit_rate or (link.bit_rate if link else None) or 250_000
    name = spec.channel
    return f"ip link set {name} down; ip link set {name} up type can bitrate {rate} listen-only on"


def _refused(spec: PortSpec, what: str, reason: str, todo: str) -> PortRefusedError:
    return PortRefusedError(what, reason=reason, where=spec.channel, todo=todo)


def _opened(spec: PortSpec) -> socket.socket:
    try:
        raw = socket.socket(socket.AF_CAN, socket.SOCK_RAW, socket.CAN_RAW)
        raw.bind((spec.channel,))
    except (AttributeError, OSError) as error:
        why = getattr(error, "strerror", None) or "this system has no SocketCAN"
        raise _refused(spec, f"The interface cannot be opened ({why}).", "absent", "") from error
    return raw


def _described(spec: PortSpec, link: KernelLink | None) -> str:
    rate = f"{link.bit_rate} bit/s" if link and link.bit_rate else "bit rate unknown"
    state = f", {link.state.lower()}" if link and link.state else ""
    return f"{spec.channel} at {rate}{state}"
