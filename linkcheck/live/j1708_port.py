"""A live J1708 link through a serial port with an RS-485 adapter: bytes with the time they arrived.

9600 bit/s, 8N1. Nothing is ever written, and RTS and DTR are kept low: on adapters that key their driver with RTS the
driver stays off. The operating system hands bytes on in blocks, on USB up to 16 ms late, so a time says when a block
had arrived and no better; `j1708.messages` mends what that tears apart. pyserial does the port.
"""

from __future__ import annotations

import contextlib
import time
from types import TracebackType
from typing import Self

import serial

from linkcheck.errors import DataError
from linkcheck.j1708.framing import BIT_RATE

__all__ = ["J1708Port"]

_LONGEST_WAIT_S = 0.05


class J1708Port:
    """An open port that listens.

    Args:
        path: the serial port ("/dev/ttyUSB0", "COM3", or a URL pyserial knows).

    Raises:
        DataError: it cannot be opened.

    """

    def __init__(self, path: str) -> None:
        self.path = path
        try:
            self._port = serial.serial_for_url(path, BIT_RATE, timeout=_LONGEST_WAIT_S, do_not_open=True)
            self._port.rts = self._port.dtr = False
            self._port.open()
        except (serial.SerialException, OSError, ValueError) as error:
            raise DataError(
                f"This serial port cannot be opened: {error}.", where=path, todo="Name the port of the RS-485 adapter."
            ) from error
        with contextlib.suppress(AttributeError, OSError, ValueError, NotImplementedError):
            self._port.set_low_latency_mode(low_latency_settings=True)  # Linux; not every driver can

    def read(self) -> tuple[int, bytes]:
        """What has arrived, and when the last of it had (nanoseconds since 1970); nothing after 50 ms of silence.

        Raises:
            DataError: the port is gone.

        """
        try:
            data: bytes = self._port.read(1)
            waiting = self._port.in_waiting if data else 0
            return (time.time_ns(), data + self._port.read(waiting)) if waiting else (time.time_ns(), data)
        except (serial.SerialException, OSError, TypeError) as error:  # pyserial: TypeError when closed in mid-read
            raise DataError(f"The serial port is gone: {error}.", where=self.path, todo="Plug it in again.") from error

    def close(self) -> None:
        """Release the port; never raises."""
        with contextlib.suppress(serial.SerialException, OSError):
            self._port.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()
