"""A checked driver for serial-line adapters that speak the open ASCII protocol.

Every command's answer is read, so that "refused" and "no answer" are known for what they are; listen-only counts as
proven only when the adapter acknowledged it. Characters are read in blocks, and the status is asked for while frames
come in. A refusal closes the bus again before anything is raised.
"""

from __future__ import annotations

import contextlib
import os
import struct
import time
from collections.abc import Callable
from typing import Any

from linkcheck.errors import UsageError
from linkcheck.frames import ERROR
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
from linkcheck.live.serial_protocol import BUS_ERROR_BIT, RATE_COMMANDS, LineParser, frame_command, status_of

__all__ = ["DONE", "REFUSED", "SerialPort"]

DONE, REFUSED = b"", b"\a"
ANSWER_S = 0.5  # a USB adapter answers within some milliseconds; python-can waits 2 s for slow starters before it asks
STATUS_S = 0.25
SILENT_ADAPTER_S = 1.0  # status polls unanswered for so long: the adapter hangs
GATHER_S = 0.001  # on a busy bus let characters gather, rather than fetch them one by one
_QUIET_S = 0.05
_TIOCGICOUNT = 0x545D  # Linux include/uapi/asm-generic/ioctls.h
_COUNTS = struct.Struct("20i")  # struct serial_icounter_struct: ..., overrun [7], ..., buf_overrun [10]


class SerialPort:
    """An adapter on a serial line, open on a bus.

    Args:
        spec: `channel` is the device; options: `serial_rate` (characters run at that bit rate, default 115200; USB
            adapters do not care).
        clock: time stamps come from here.
        open_serial: makes the serial line, for tests.

    Raises:
        PortRefusedError: no such device, no answer, a rate or a mode refused, silence not confirmed.

    """

    def __init__(
        self, spec: PortSpec, clock: SteadyClock | None = None, open_serial: Callable[..., Any] | None = None
    ) -> None:
        self.spec = spec
        self._clock = clock or SteadyClock()
        self._parser = LineParser()
        self._answers: list[bytes] = []
        self._intake = Intake()
        self._overruns = self._damaged = 0
        self._errors: tuple[int, int] | None = None
        self._asked_at: float | None = None
        self._poll_at = 0.0
        self._polls, self._hangs, self._status = True, False, 0
        self._tells_errors = False
        self.confirmed = self.refused = 0  # sent frames, as answered
        self._line = _opened(spec, open_serial)
        try:
            self.facts = self._start()
        except BaseException:
            self.close()
            raise

    def _now_s(self) -> float:
        # The ports' own clock is steady; where it is a simulated one, waiting takes simulated time.
        return self._clock.now_ns() / 1e9

    def _start(self) -> PortFacts:
        spec = self.spec
        if spec.bit_rate not in RATE_COMMANDS:
            known = ", ".join(f"{rate // 1000}k" for rate in RATE_COMMANDS)
            raise UsageError(f"Serial-line adapters know no bit rate {spec.bit_rate}.", todo=f"They know {known}.")
        self._wake()
        identity = self._identity()
        rate = self.command(RATE_COMMANDS[spec.bit_rate])
        if rate == REFUSED:
            raise self._refusal(f"The adapter refuses {spec.bit_rate} bit/s.", "rate")
        mode = self.command(b"O" if spec.active else b"L")
        if mode == REFUSED:
            todo = "" if spec.active else "Use another adapter, or say that it may take part in the bus."
            raise self._refusal(
                "The adapter refuses to open." if spec.active else "The adapter refuses to listen only.", "mode", todo
            )
        if rate is None and mode is None and not identity and not spec.accept_unproven:
            todo = "Check its power and that this is its port; or say that an unproven one will do."
            raise self._refusal("The adapter answers no command.", "mute", todo)
        notes = []
        if rate is None:
            notes.append("the adapter did not confirm the bit rate")
        if mode is None and not spec.active:
            notes.append("the adapter did not confirm that it only listens")
            if not spec.accept_unproven:
                raise self._refusal(
                    "The adapter does not confirm that it only listens.",
                    "unproven",
                    "Use another adapter, or say that an unproven one will do.",
                )
        silence = Silence.ACTIVE if spec.active else Silence.PROVEN if mode == DONE else Silence.CLAIMED
        self._note("opened", f"{identity or 'an adapter without a version'} at {spec.bit_rate} bit/s")
        return PortFacts(silence, spec.bit_rate if rate == DONE else None, identity, "host", tuple(notes))

    def _wake(self) -> None:
        """Leave whatever state the adapter is in: end half a command, close the bus, throw away what comes."""
        self._write(b"\r\r\rC\r")
        quiet_at = self._now_s() + _QUIET_S
        give_up = self._now_s() + ANSWER_S
        while self._now_s() < min(quiet_at, give_up):
            if self._fetch(_QUIET_S / 2):
                quiet_at = self._now_s() + _QUIET_S
        self._parser = LineParser()
        self._answers.clear()
        self._intake = Intake()
        self._damaged = 0

    def _identity(self) -> str:
        words = []
        for question, word in ((b"V", "version"), (b"N", "serial number")):
            answer = self.command(question)
            if answer and answer != REFUSED:
                words.append(f"{word} {answer[1:].decode('ascii', 'replace')}")
        return ", ".join(words)

    def _refusal(self, what: str, reason: str, todo: str = "") -> PortRefusedError:
        return PortRefusedError(what, reason=reason, where=self.spec.channel, todo=todo)

    def command(self, words: bytes, wait_s: float = ANSWER_S) -> bytes | None:
        """Give a command and read its answer: DONE, REFUSED, what was asked for, or None where none comes."""
        self._answers.clear()
        self._write(words + b"\r")
        until = self._now_s() + wait_s
        while not self._answers and self._now_s() < until:
            self._fetch(0.02)
        return self._answers.pop(0) if self._answers else None

    def read(self, timeout_s: float) -> Intake:
        """Whatever has arrived, waiting at most `timeout_s` for the first of it."""
        self._poll()
        self._fetch(timeout_s)
        for answer in self._answers:
            self._hear(answer)
        self._answers.clear()
        taken, self._intake = self._intake, Intake()
        return taken

    def _fetch(self, timeout_s: float) -> bool:
        """Read one block. Tells whether anything came."""
        try:
            self._line.timeout = timeout_s
            block = self._line.read(1)
            if block:
                if timeout_s > GATHER_S:
                    time.sleep(GATHER_S)
                block += self._line.read(self._line.in_waiting)
        except (OSError, TypeError, ValueError) as error:  # pyserial raises all of them on a line that went away
            raise PortLostError(f"The adapter went away ({error}).", where=self.spec.channel) from error
        if block:
            lines = self._parser.feed(block, self._clock.now_ns())
            self._intake.records += lines.records
            self._answers += lines.answers
            self._damaged += lines.damaged
            self._errors = lines.counters or self._errors
            self._tells_errors = self._tells_errors or lines.tells_errors
        return bool(block)

    def _write(self, characters: bytes) -> None:
        try:
            self._line.write(characters)
        except (OSError, TypeError, ValueError) as error:
            raise PortLostError(f"The adapter went away ({error}).", where=self.spec.channel) from error

    def _poll(self) -> None:
        now = self._now_s()
        if self._asked_at is not None and now - self._asked_at > SILENT_ADAPTER_S and not self._hangs:
            self._hangs = True
            self._note("stalled", "the adapter does not answer when asked for its status")
        if self._polls and now >= self._poll_at:
            self._poll_at = now + STATUS_S
            self._asked_at = self._asked_at or now
            self._write(b"F\r")

    def _hear(self, answer: bytes) -> None:
        if answer[:1] in (b"z", b"Z"):
            self.confirmed += 1
            return
        if self._asked_at is None:
            self.refused += answer == REFUSED
            return
        if answer == REFUSED:
            # Sent frames are refused by the same bell; only in listen-only is it surely the status.
            self._polls, self._asked_at = self.spec.active, None
            self.refused += self.spec.active
            if not self._polls:
                self._note("state", "the adapter does not tell its status")
        elif answer[:1] == b"F":
            self._answered()
            with contextlib.suppress(ValueError):
                self._take_status(int(answer[1:3], 16))

    def _answered(self) -> None:
        self._asked_at = None
        if self._hangs:
            self._hangs = False
            self._note("answers_again", "the adapter answers again")

    def _take_status(self, value: int) -> None:
        if self._tells_errors:
            value &= ~BUS_ERROR_BIT  # told already, one by one
        status, before = status_of(value), status_of(self._status)
        self._status = value
        if status.lost:
            self._overruns += 1
            self._note("overrun", "the adapter lost frames: its buffer overflowed")
        if (status.warning, status.passive) != (before.warning, before.passive):
            word = "error-passive" if status.passive else "error warning" if status.warning else "error-active"
            self._note("state", f"the adapter's controller is {word}")
        elif not (status.lost or status.bus_error or status.transmit_full):
            return  # standing at a level is no news
        frame = status.error_frame()
        if frame:
            classes, detail = frame
            self._intake.records += RECORD_FORMAT.pack(self._clock.now_ns(), classes, ERROR, 0, 8, detail)

    def _note(self, kind: str, text: str) -> None:
        self._intake.events.append(PortEvent(self._clock.now_ns(), kind, text))

    def counters(self) -> Counters:
        """What got lost so far. The kernel's count is of characters, and only where its driver keeps one."""
        sent, received = self._errors or (None, None)
        told = self._polls or self._overruns
        return Counters(self._overruns if told else None, _kernel_drops(self._line), 0, self._damaged, sent, received)

    def send(self, identifier: int, flags: int, payload: bytes, length: int | None = None) -> None:
        """Hand a frame to the adapter; `confirmed` and `refused` count its answers as they are read."""
        if not self.spec.active:
            raise UsageError("This adapter was opened to listen only.", where=self.spec.channel)
        self._write(frame_command(identifier, flags, payload, length) + b"\r")

    def close(self) -> None:
        """Leave the bus and the line. Never raises."""
        with contextlib.suppress(OSError, TypeError, ValueError, PortLostError):
            self._line.write(b"\rC\r")
            self._line.flush()
        with contextlib.suppress(OSError, TypeError, ValueError):
            self._line.close()


def _opened(spec: PortSpec, open_serial: Callable[..., Any] | None) -> Any:  # noqa: ANN401  # pyserial is untyped
    import serial  # noqa: PLC0415  # devices are opened by few commands

    make = open_serial or serial.serial_for_url
    try:
        return make(
            spec.channel, baudrate=int(spec.options.get("serial_rate", 115_200)), timeout=0.02, write_timeout=1.0
        )
    except (OSError, ValueError) as error:
        number = getattr(error, "errno", None)
        why = os.strerror(number) if number else " ".join(str(error).split())
        raise PortRefusedError(
            f"The serial port cannot be opened ({why}).",
            reason="absent",
            where=spec.channel,
            todo="Check the cable and that no other program uses it; `linkcheck listen --interfaces` lists the ports.",
        ) from error


def _kernel_drops(line: Any) -> int | None:  # noqa: ANN401  # pyserial is untyped
    """Characters lost between driver and this program, where the driver counts them (Linux)."""
    try:
        import fcntl  # noqa: PLC0415  # not on Windows

        counts = _COUNTS.unpack(fcntl.ioctl(line.fileno(), _TIOCGICOUNT, bytes(_COUNTS.size)))
    except (ImportError, OSError, AttributeError, ValueError, TypeError):
        return None
    return int(counts[7]) + int(counts[10])
