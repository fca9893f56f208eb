"""What is asked before a bus is listened to: which interface, at which bit rate, and whether it may take part.

What the interface can do stands with the question, as far as anybody knows. Nothing is opened without an answer.
"""

from __future__ import annotations

import asyncio
import dataclasses
from typing import TYPE_CHECKING

from linkcheck.app.widgets.dialog import AskLine, Choose
from linkcheck.errors import UsageError

if TYPE_CHECKING:
    from linkcheck.app.main import LinkcheckApp
    from linkcheck.live.capabilities import Capability
    from linkcheck.live.port import PortSpec
    from linkcheck.survey.live_capture import LiveCapture

__all__ = ["ask_port", "opened"]

EXAMPLES = "serial:/dev/ttyACM0, virtual:bench, udp_multicast:239.74.163.2"
OWN_RATE = ("socketcan", "socketcand", "virtual", "udp_multicast")  # set elsewhere, or needing none
RATES = (("250000", "Listen at 250 kbit/s"), ("500000", "Listen at 500 kbit/s"), ("", "Listen at another bit rate"))


async def ask_port(app: LinkcheckApp) -> PortSpec | None:
    """Which port, and at which rate; None where the user leaves it.

    Raises:
        UsageError: what was typed is no port, or no rate.

    """
    from linkcheck.live.capabilities import found_ports  # noqa: PLC0415  devices: not before they are wanted
    from linkcheck.live.open_port import parse_port  # noqa: PLC0415

    found = await asyncio.to_thread(found_ports)
    rows = [(each.port, f"{each.port}  {each.text}") for each in found]
    name = await app.push_screen_wait(Choose("Listen on which interface?", [*rows, ("", "Another: type its name")]))
    if name == "":
        name = await app.push_screen_wait(AskLine("Which interface? INTERFACE:CHANNEL", placeholder=EXAMPLES))
    if not name:
        return None
    spec = parse_port(name)
    question = f"{name}\n{_words(await asyncio.to_thread(_capability, spec.interface))}"
    if spec.interface in OWN_RATE:
        return spec if await app.push_screen_wait(Choose(question, [("listen", "Listen")])) else None
    rate = await app.push_screen_wait(Choose(question, RATES))
    if rate == "":
        typed = await app.push_screen_wait(AskLine("Bit rate of the bus, in kbit/s", placeholder="250"))
        rate = None if typed is None else str(_bits(typed))
    return None if rate is None else dataclasses.replace(spec, bit_rate=int(rate))


async def opened(app: LinkcheckApp, spec: PortSpec) -> LiveCapture | None:
    """Open the port, silent; where silence cannot be had, only after the user said yes. None: they did not.

    Raises:
        PortRefusedError: it is not there, or will not do what is asked.

    """
    from linkcheck.live.port import PortRefusedError  # noqa: PLC0415
    from linkcheck.survey.listening import accepting, would_take_part  # noqa: PLC0415
    from linkcheck.survey.live_capture import LiveCapture  # noqa: PLC0415  numpy

    try:
        return await asyncio.to_thread(LiveCapture, [spec])
    except PortRefusedError as error:
        question = would_take_part(error, [spec])
        if question is None:
            raise
        rows = [("no", "Do not listen"), ("yes", "Listen all the same")]
        if await app.push_screen_wait(Choose(question, rows)) != "yes":
            return None
        return await asyncio.to_thread(LiveCapture, accepting(error, [spec]))


def _capability(interface: str) -> Capability:
    from linkcheck.live.capabilities import Capability, capabilities  # noqa: PLC0415
    from linkcheck.live.open_port import SERIAL  # noqa: PLC0415

    name = "serial" if interface in SERIAL else interface
    none = Capability(name, usable="no such interface is known here")
    return next((row for row in capabilities() if row.interface == name), none)


def _words(row: Capability) -> str:
    words = [
        f"Can it be silent: {row.silent}.",
        f"Error frames: {row.errors}. Error counters: {row.counters}.",
        f"Time stamps: {row.stamps}. Tells what it dropped: {row.losses}.",
    ]
    return "\n".join([*words, *([] if row.usable == "yes" else [f"Its driver: {row.usable}."])])


def _bits(typed: str) -> int:
    try:
        rate = round(float(typed) * 1000)
    except (ValueError, OverflowError):
        rate = 0
    if not 10_000 <= rate <= 1_000_000:
        raise UsageError(f"{typed!r} is no bit rate.", todo="Type it in kbit/s, from 10 to 1000: 250.")
    return rate
