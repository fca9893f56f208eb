"""Every other interface python-can knows, made safe to listen on.

python-can swallows arguments it does not know, so asking for silence proves nothing; a receiver must also survive a
frame that cannot be. Interfaces without wires are named; for the others silence is at best claimed.
"""

from __future__ import annotations

import contextlib
import importlib
import inspect
import logging
from typing import Any

import can

from linkcheck.errors import UsageError
from linkcheck.frames import BRS, ERROR, ESI, EXTENDED, FD, REMOTE, SENT
from linkcheck.frames.fd import LENGTHS
from linkcheck.frames.records import RECORD_FORMAT
from linkcheck.live.clock import SteadyClock
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

__all__ = ["WIRELESS", "PythonCanPort", "silent_arguments"]

WIRELESS = ("virtual", "udp_multicast")  # no CAN wires behind them
_MOST = 2048  # messages one read takes
_BAD_IN_A_ROW = 100
_EPOCH_S = 1e9  # stamps above this are times of day; below, seconds since the driver started
_BUS_ERROR = 0x80  # CAN_ERR_BUSERROR, Linux include/uapi/linux/can/error.h
# Arguments by which interfaces are asked to listen only, as python-can's constructors name them.
_SILENT: dict[str, Any] = {
    "listen_only": True,
    "monitor": True,
    "state": can.BusState.PASSIVE,
    "operation_mode": "silent",
}


def silent_arguments(interface: str) -> dict[str, Any] | None:
    """Arguments that ask an interface for silence; {} where it has none, None where its driver cannot be loaded."""
    module, name = can.interfaces.BACKENDS[interface]
    try:
        bus_class = getattr(importlib.import_module(module), name)
        known = inspect.signature(bus_class.__init__).parameters
    except Exception:  # noqa: BLE001  # foreign drivers raise anything while loading
        return None
    return {word: value for word, value in _SILENT.items() if word in known}


class PythonCanPort:
    """An interface opened through python-can.

    Raises:
        PortRefusedError: unknown, not there, or not silent although it must be.

    """

    def __init__(self, spec: PortSpec, clock: SteadyClock | None = None) -> None:
        self.spec = spec
        self._clock = clock or SteadyClock()
        self._damaged = self._in_a_row = 0
        if spec.interface not in can.interfaces.BACKENDS:
            raise PortRefusedError(
                f"There is no interface called {spec.interface!r}.",
                reason="unknown",
                todo="`linkcheck listen --interfaces` lists them.",
            )
        silent = {} if spec.active or spec.interface in WIRELESS else silent_arguments(spec.interface) or {}
        silence = self._silence(silent)
        logging.getLogger("can").setLevel(logging.CRITICAL)
        rate: dict[str, Any] = {} if spec.bit_rate is None else {"bitrate": spec.bit_rate}
        try:
            self._bus = can.Bus(
                interface=spec.interface, channel=spec.channel, ignore_config=True, **rate, **silent, **spec.options
            )
        except Exception as error:  # drivers raise anything
            raise PortRefusedError(
                f"The interface cannot be opened ({_words(error)}).",
                reason="absent",
                where=f"{spec.interface}:{spec.channel}",
            ) from error
        told = str(self._bus.channel_info)
        identity = f"{spec.interface}:{spec.channel}" if told == "unknown" else told
        self.facts = PortFacts(silence, None, identity, "host")
        self._events = [PortEvent(self._clock.now_ns(), "opened", identity)]

    def _silence(self, silent: dict[str, Any]) -> Silence:
        spec = self.spec
        if spec.interface in WIRELESS:
            return Silence.NO_BUS
        if spec.active:
            return Silence.ACTIVE
        silence = Silence.CLAIMED if silent else Silence.UNKNOWN
        if not spec.accept_unproven:
            why = (
                "is asked to listen only, and nothing confirms that it does"
                if silent
                else "cannot be told to be silent"
            )
            raise PortRefusedError(
                f"This interface {why}.",
                reason="unproven",
                where=f"{spec.interface}:{spec.channel}",
                todo="Use one that can prove it, or say that an unproven one will do.",
            )
        return silence

    def read(self, timeout_s: float) -> Intake:
        """Whatever has arrived, waiting at most `timeout_s` for the first of it."""
        intake = Intake(events=self._events)
        self._events = []
        for number in range(_MOST):
            try:
                message = self._bus.recv(0 if number else timeout_s)
            except (can.CanError, OSError) as error:
                raise PortLostError(f"The interface went away ({_words(error)}).", where=self.spec.channel) from error
            except Exception as error:  # noqa: BLE001  # a frame the driver cannot read must not end the listening
                self._count_damage(error)
                continue
            if message is None:
                break
            try:
                intake.records += self._record(message)
                self._in_a_row = 0
            except (TypeError, ValueError, OverflowError) as error:
                self._count_damage(error)
        return intake

    def _count_damage(self, error: Exception) -> None:
        self._damaged += 1
        self._in_a_row += 1
        if self._in_a_row >= _BAD_IN_A_ROW:
            raise PortLostError(
                f"The interface gives nothing but errors ({_words(error)}).", where=self.spec.channel
            ) from error

    def _record(self, message: can.Message) -> bytes:
        stamp = message.timestamp
        time_ns = self._clock.from_wall(round(stamp * 1e6) * 1000) if stamp > _EPOCH_S else self._clock.now_ns()
        sent = 0 if message.is_rx else SENT
        data = bytes(message.data)
        if message.is_error_frame:
            told = 0 < message.arbitration_id <= 0x3FF and len(data) == 8
            identifier = message.arbitration_id if told else _BUS_ERROR
            return RECORD_FORMAT.pack(time_ns, identifier, ERROR | sent, 0, 8, data if told else b"")
        flags = sent | (EXTENDED if message.is_extended_id else 0)
        if message.is_remote_frame:
            return RECORD_FORMAT.pack(time_ns, message.arbitration_id, flags | REMOTE, 0, min(message.dlc, 8), b"")
        if message.is_fd:
            flags |= FD | (BRS if message.bitrate_switch else 0) | (ESI if message.error_state_indicator else 0)
        if len(data) not in (LENGTHS if message.is_fd else LENGTHS[:9]):
            raise ValueError("length out of range")
        if not 0 <= message.arbitration_id <= (0x1FFFFFFF if message.is_extended_id else 0x7FF):
            raise ValueError("identifier out of range")
        return RECORD_FORMAT.pack(time_ns, message.arbitration_id, flags, 0, len(data), data)

    def counters(self) -> Counters:
        """python-can tells of no losses; what could not be read is counted."""
        return Counters(damaged=self._damaged)

    def send(self, identifier: int, flags: int, payload: bytes, length: int | None = None) -> None:
        """Put a frame on the bus. That python-can takes it does not prove that it went out."""
        if not self.spec.active:
            raise UsageError("This interface was opened to listen only.", where=self.spec.channel)
        message = can.Message(
            arbitration_id=identifier,
            is_extended_id=bool(flags & EXTENDED),
            is_remote_frame=bool(flags & REMOTE),
            is_fd=bool(flags & FD),
            bitrate_switch=bool(flags & BRS),
            dlc=length if flags & REMOTE else None,
            data=payload,
        )
        try:
            self._bus.send(message, timeout=0.5)
        except (can.CanError, OSError) as error:
            raise PortRefusedError(
                f"The interface does not take the frame ({_words(error)}).", reason="busy", where=self.spec.channel
            ) from error

    def close(self) -> None:
        """Leave. Never raises, although drivers do when their device is gone."""
        with contextlib.suppress(Exception):
            self._bus.shutdown()


def _words(error: BaseException) -> str:
    return " ".join(str(error).split())[:200] or type(error).__name__
