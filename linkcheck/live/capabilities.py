"""What each live interface can do, as far as anybody knows; what is not known is shown as unknown.

Rows for the open interfaces come from their documentation (Linux Documentation/networking/can.rst, the serial-line
protocol, python-can's manual). Interfaces tied to one maker's driver are listed from python-can as found on this
machine; of those only what their own constructor tells is claimed.
"""

from __future__ import annotations

import contextlib
import io
from dataclasses import dataclass, replace

from linkcheck.live.kernel_link import KernelLink, kernel_links

__all__ = ["Capability", "FoundPort", "capabilities", "found_ports"]

YES, NO, UNKNOWN = "yes", "no", "unknown"


@dataclass(frozen=True, slots=True)
class Capability:
    """One interface. Every answer is "yes", "no", "unknown", or a few words.

    Attributes:
        silent: can it be kept silent, and how do we know.
        errors: does it report error frames. counters: error counters.
        stamps: where time stamps come from. echoes: does it confirm that a sent frame was on the bus.
        losses: does it tell what it dropped. usable: is its driver here.

    """

    interface: str
    silent: str = UNKNOWN
    errors: str = UNKNOWN
    counters: str = UNKNOWN
    stamps: str = UNKNOWN
    echoes: str = UNKNOWN
    losses: str = UNKNOWN
    usable: str = YES


@dataclass(frozen=True, slots=True)
class FoundPort:
    """A port of this machine: how to name it to `listen`, and what is known of it."""

    port: str
    text: str


_KNOWN = (
    Capability(
        "serial", "yes, proven by its answer", "some adapters", "some adapters", "host", UNKNOWN, "by status", YES
    ),
    Capability(
        "socketcan", "yes, read from the kernel", "yes, driver willing", YES, "kernel", YES, "kernel's count", ""
    ),
    Capability("virtual", "no bus behind it", NO, NO, "sender", NO, NO, YES),
    Capability("udp_multicast", "no bus behind it", NO, NO, "host", NO, NO, YES),
    Capability("socketcand", "set on its server", UNKNOWN, UNKNOWN, "its server", UNKNOWN, UNKNOWN, YES),
)
_ALIASES = ("slcan", "serial")  # our own driver stands for both of python-can's


def capabilities() -> list[Capability]:
    """The table, open interfaces first."""
    import socket  # noqa: PLC0415  # only to ask whether the system has SocketCAN

    import can  # noqa: PLC0415  # takes a while, and prints while loading drivers

    rows = [
        row if row.usable else replace(row, usable=YES if hasattr(socket, "AF_CAN") else "not on this system")
        for row in _KNOWN
    ]
    named = {row.interface for row in rows} | set(_ALIASES)
    with contextlib.redirect_stdout(io.StringIO()), contextlib.redirect_stderr(io.StringIO()):
        rows += [_asked(name) for name in sorted(can.interfaces.VALID_INTERFACES - named)]
    return rows


def _asked(name: str) -> Capability:
    import logging  # noqa: PLC0415

    from linkcheck.live.python_can_port import silent_arguments  # noqa: PLC0415

    logging.getLogger("can").setLevel(logging.CRITICAL)
    arguments = silent_arguments(name)
    if arguments is None:
        return Capability(name, usable="its driver is not here")
    silent = f"on request ({next(iter(arguments))}), unproven" if arguments else UNKNOWN
    return Capability(name, silent, usable="python part is here")


def found_ports() -> list[FoundPort]:
    """Ports of this machine that could be listened on: CAN network interfaces and serial ports."""
    from serial.tools import list_ports  # noqa: PLC0415  # asks the system's devices

    ports = [FoundPort(f"socketcan:{name}", _link_text(link)) for name, link in sorted(kernel_links().items())]
    ports += [FoundPort(f"serial:{port.device}", port.description or "") for port in sorted(list_ports.comports())]
    return ports


def _link_text(link: KernelLink) -> str:
    words = [f"{link.bit_rate} bit/s" if link.bit_rate else "no bit rate set"]
    if link.sample_point:
        words.append(f"sample point {link.sample_point:.1%}")
    words.append("virtual" if link.virtual else "listen-only" if link.listen_only else "takes part in the bus")
    words.append((link.state or "state unknown").lower() if link.up else "down")
    return ", ".join(words)
