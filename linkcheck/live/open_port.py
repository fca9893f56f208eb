"""From a port's name on the command line to an open port: `serial:/dev/ttyACM0`, `socketcan:can0`, `virtual:bench`."""

from __future__ import annotations

import re
import sys

from linkcheck.errors import UsageError
from linkcheck.live.clock import SteadyClock
from linkcheck.live.port import Port, PortSpec

__all__ = ["DEFAULT_RATE", "IN_PROCESS", "SERIAL", "open_port", "parse_port"]

SERIAL = ("serial", "slcan")  # both mean our own driver
IN_PROCESS = ("virtual",)  # reaches no other process
DEFAULT_RATE = 250_000  # SAE J1939-11 and -15
_NAME = re.compile(r"[!-~]{1,15}")


def parse_port(text: str, number: int = 0, *, bit_rate: int | None = None, active: bool = False) -> PortSpec:
    """A port as a user writes it: INTERFACE:CHANNEL, or a channel alone where that says enough.

    Args:
        text: e.g. "serial:/dev/ttyACM0", "/dev/ttyACM0", "COM5", "can0", "udp_multicast:239.74.163.2".
        number: which of several; names the channel can0, can1, ... where it has no short name of its own.
        bit_rate: as given by the user, None for the usual one.
        active: take part in the bus.

    Raises:
        UsageError: not a port.

    """
    interface, colon, channel = text.partition(":")
    if not colon or re.fullmatch(r"/.*|COM\d+", text, re.IGNORECASE):
        interface, channel = _guess(text), text
    if not channel:
        raise UsageError(f"{text!r} names no channel.", todo="Write INTERFACE:CHANNEL, e.g. serial:/dev/ttyACM0.")
    name = channel if interface == "socketcan" and _NAME.fullmatch(channel) else f"can{number}"
    if interface in SERIAL:
        bit_rate = bit_rate or DEFAULT_RATE
    return PortSpec(interface, channel, bit_rate, active, name=name)


def _guess(text: str) -> str:
    if text.startswith("/dev/") or re.fullmatch(r"COM\d+", text, re.IGNORECASE):
        return "serial"
    if re.fullmatch(r"(can|vcan|vxcan|slcan)\d+", text) and sys.platform == "linux":
        return "socketcan"
    raise UsageError(
        f"{text!r} is no port.",
        todo="Write INTERFACE:CHANNEL, e.g. serial:/dev/ttyACM0; `linkcheck listen --interfaces` lists what is there.",
    )


def open_port(spec: PortSpec, clock: SteadyClock | None = None) -> Port:
    """Open a port with the driver that fits.

    Raises:
        PortRefusedError: it is not there, or will not do what is asked.

    """
    # Each driver brings its own library, and only one of them is needed.
    if spec.interface in SERIAL:
        from linkcheck.live.serial_port import SerialPort  # noqa: PLC0415

        return SerialPort(spec, clock)
    if spec.interface == "socketcan":
        from linkcheck.live.socketcan_port import SocketCanPort  # noqa: PLC0415

        return SocketCanPort(spec, clock)
    from linkcheck.live.python_can_port import PythonCanPort  # noqa: PLC0415

    return PythonCanPort(spec, clock)
