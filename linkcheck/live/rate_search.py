"""Which bit rate does this bus run at? Listened for at one rate after another, in proven silence only.

An adapter that takes part at the wrong rate answers every frame with error flags and can stop a truck's network while
it searches. So the search refuses where silence is not proven, unless the user, told what would happen, accepts it.
"""

from __future__ import annotations

import dataclasses
import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from linkcheck.errors import LinkcheckError, UsageError
from linkcheck.frames import ERROR
from linkcheck.frames.records import batch_of
from linkcheck.live.open_port import SERIAL, open_port
from linkcheck.live.port import Port, PortRefusedError, PortSpec, Silence

__all__ = ["USUAL_RATES", "WRONG_RATE", "RateVerdict", "search_rates"]

USUAL_RATES = (250_000, 500_000)  # SAE J1939-11 and -15; -14
WRONG_RATE = (
    "At the wrong bit rate an adapter that takes part in the bus answers every frame with error flags: modules may "
    "drop out, set codes or go bus-off while the search runs."
)
_LEAST_FRAMES = 3  # a wrong rate may fake one frame, hardly three
_READ_S = 0.05


@dataclass(frozen=True, slots=True)
class RateVerdict:
    """What was heard at one rate. `verdict`: traffic, errors only, silent, refused."""

    bit_rate: int
    verdict: str
    frames: int
    errors: int
    seconds: float
    text: str


def search_rates(
    spec: PortSpec,
    rates: Sequence[int] = USUAL_RATES,
    seconds: float = 2.0,
    *,
    open_with: Callable[[PortSpec], Port] = open_port,
) -> Iterator[RateVerdict]:
    """Listen at each rate in turn; stops after the first one with traffic.

    Args:
        spec: the port; its own bit rate does not matter.
        rates: in this order.
        seconds: how long at each rate. Modules send something every second at least (SAE J1939-73, DM1).
        open_with: opens ports, for tests.

    Raises:
        UsageError: the interface's rate cannot be set from here.
        PortRefusedError: no silence, or the port is not there.

    """
    if spec.active:
        raise UsageError("The bit rate is searched for by listening only.")
    if spec.interface not in SERIAL and spec.interface == "socketcan":
        raise UsageError(
            "The bit rate of a SocketCAN interface is set by the system.",
            where=spec.channel,
            todo=f"Set one silently: ip link set {spec.channel} up type can bitrate 250000 listen-only on.",
        )
    for rate in rates:
        verdict = _listen(dataclasses.replace(spec, bit_rate=rate), rate, seconds, open_with)
        yield verdict
        if verdict.verdict == "traffic":
            return


def _listen(spec: PortSpec, rate: int, seconds: float, open_with: Callable[[PortSpec], Port]) -> RateVerdict:
    try:
        port = open_with(spec)
    except PortRefusedError as error:
        if error.reason == "rate":
            return RateVerdict(rate, "refused", 0, 0, 0.0, error.what)
        raise PortRefusedError(error.what, reason=error.reason, where=error.where, todo=_consequence(error)) from error
    except LinkcheckError as error:
        return RateVerdict(rate, "refused", 0, 0, 0.0, error.what)
    try:
        if port.facts.silence is not Silence.PROVEN and not spec.accept_unproven:
            raise PortRefusedError("Silence is not proven.", reason="unproven", where=spec.channel, todo=WRONG_RATE)
        return _judged(port, rate, seconds)
    finally:
        port.close()


def _consequence(error: PortRefusedError) -> str:
    return f"{WRONG_RATE} {error.todo}" if error.reason in ("unproven", "mode") else error.todo


def _judged(port: Port, rate: int, seconds: float) -> RateVerdict:
    records, begin = bytearray(), time.monotonic()
    while (passed := time.monotonic() - begin) < seconds:
        records += port.read(_READ_S).records
    batch = batch_of(records, ("bus",))
    errors = int(np.count_nonzero(batch.flags & ERROR))
    frames = len(batch) - errors
    if frames >= _LEAST_FRAMES and frames > errors:
        return RateVerdict(rate, "traffic", frames, errors, passed, f"{frames} frames: this is the bus's bit rate")
    if errors or frames:
        return RateVerdict(rate, "errors only", frames, errors, passed, "somebody talks, but not at this bit rate")
    damage = port.counters().damaged
    more = f"; {damage} lines could not be read" if damage else ""
    return RateVerdict(rate, "silent", 0, 0, passed, f"nothing at all: no traffic, or no contact with the bus{more}")
