"""What every test of the bench gets: the harness, the plan, hands, and a way to say what was found.

A plan says how much of everything; the tests themselves are in the `rows_*` modules.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from typing import Any

from linkcheck.bench.frames import numbered
from linkcheck.bench.hands import Hands
from linkcheck.bench.harness import Carried, Harness, Side
from linkcheck.bench.limits import COMMON
from linkcheck.bench.result import Row, Verdict
from linkcheck.live.open_port import SERIAL

__all__ = ["NOTHING_PASSES", "PLANS", "Bench", "Measured", "Plan", "row"]

_ACK = 0x20  # CAN_ERR_ACK, _BUSOFF and _CRTL, Linux include/uapi/linux/can/error.h
_BUSOFF, _CRTL, _PROT = 0x40, 0x04, 0x08
_PASSIVE = 0x30
_PLACE_ACK = (0x19, 0x1B)  # acknowledge slot and delimiter


@dataclass(frozen=True, slots=True)
class Plan:
    """How much is tried.

    Attributes:
        rates: bit/s. repeats: of every kind of frame. load_s: full load in each direction at each rate.
        latency_frames, stamp_frames: frames of those tests. transport_bytes: of a message in packets.
        soak_s: of the long run; 0 for none.
        window: frames on their way at once under full load; many adapters hold some dozens.

    """

    name: str
    rates: tuple[int, ...] = (250_000, 500_000)
    repeats: int = 10
    load_s: float = 10.0
    latency_frames: int = 500
    stamp_frames: int = 3000
    transport_bytes: int = 1785
    soak_s: float = 0.0
    window: int = 32


PLANS = {
    "full": Plan("full"),
    "quick": Plan("quick", (250_000, 500_000), 2, 1.0, 60, 150, 105),
}


@dataclass(frozen=True, slots=True)
class Measured:
    """What a test found, before it is put on a row."""

    verdict: Verdict
    figure: str = ""
    numbers: dict[str, Any] = field(default_factory=dict)
    note: str = ""


NOTHING_PASSES = Measured("not measured", note="no frame gets through at all")


def row(name: str, title: str, limit: str, found: Measured, *, source: str = COMMON, conditions: str = "") -> Row:
    """A line of the sheet."""
    return Row(
        row=name,
        title=title,
        verdict=found.verdict,
        figure=found.figure,
        limit=limit,
        source=source,
        numbers=found.numbers,
        note=found.note,
        conditions=conditions,
    )


@dataclass(slots=True)
class Bench:
    """The state of one run.

    Attributes:
        harness, plan, hands: see there. seed: of all frames. tick: called often while a test runs, with a share 0-1
            where it is known. usable: rates at which A opened. identity: what A says it is.
        dead: rates and sending sides at which no frame got through at all: nothing more is measured there.

    """

    harness: Harness
    plan: Plan
    hands: Hands
    seed: int
    tick: Callable[[float | None], None] = lambda _share: None
    usable: set[int] = field(default_factory=set)
    identity: str = ""
    dead: set[tuple[int, Side]] = field(default_factory=set)
    _run: int = 0
    _partner_tells: bool | None = None

    def next_run(self) -> int:
        """A fresh tag for numbered frames."""
        self._run += 1
        return self.seed * 31 + self._run

    def is_serial(self, side: Side) -> bool:
        """Whether a side is a serial-line adapter, whose every answer is read."""
        return self.harness.opener.spec(side).interface in SERIAL

    def partner_tells(self) -> bool:
        """Whether B, alone on the harness, reports that nobody acknowledges: the measure of other tests."""
        if self._partner_tells is None:
            harness = self.harness
            harness.close()
            harness.open("b", self.plan.rates[0])
            self._partner_tells = bool(missing_acknowledgements(self.poke("b", 0.3), "b"))
            harness.close()
        return self._partner_tells

    def poke(self, side: Side, seconds: float, count: int = 1) -> Carried:
        """Send a few frames from a side and listen for a while, whatever becomes of them."""
        carried = Carried(began_ns=self.harness.now_ns())
        for frame in numbered(self.next_run(), count):
            self.harness.send(side, frame)
            carried.sent.append((self.harness.now_ns(), frame))
        self.harness.listen(carried, side, seconds)
        return carried

    def rates(self) -> Iterator[int]:
        """The rates of the plan at which A opened."""
        return (rate for rate in self.plan.rates if rate in self.usable)


def missing_acknowledgements(carried: Carried, side: Side) -> int:
    """Error frames of a side that say nobody acknowledged, or that its controller turned passive over it."""
    return sum(
        bool(
            classes & _ACK
            or (classes & _CRTL and detail[1] & _PASSIVE)
            or (classes & _PROT and detail[3] in _PLACE_ACK)
        )
        for classes, detail in carried.errors[side]
    )


def bus_offs(carried: Carried, side: Side) -> int:
    """Error frames of a side that say its controller went bus-off."""
    return sum(bool(classes & _BUSOFF) for classes, _ in carried.errors[side])


def disturbances(carried: Carried, side: Side) -> int:
    """Error frames of a side about bits, stuffing, form or checksum: somebody spoilt a frame."""
    return sum(bool(classes & _PROT and detail[2]) for classes, detail in carried.errors[side])


def rate_words(rate: int) -> str:
    """A bit rate as the trade says it."""
    return f"{rate // 1000} kbit/s"
