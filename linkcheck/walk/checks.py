"""Every check that can be asked for, as one table: what is read, between which points, in which state of the truck.

A check's id says all of it: `volts:B-A:key_off`, `ohms:C-D:dead`, `listen:own`. What it costs and how it is worded
depends on the state the truck is in, and is elsewhere. Points are named as in `circuit.probes`. Ohms are asked for only
in states with the battery disconnected.

The choice of checks is the trade's (common practice, no source), with those added that split faults which look alike.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from linkcheck.circuit import MODULES, SHOWS, TERMINATORS, State
from linkcheck.diagnosis.samples import Observable

__all__ = ["CHECKS", "HEARD", "LOOKS", "STATES", "Check"]

Need = Literal["j1708", "shield"]
HEARD = ("none", "some", "all")  # of the modules that the truck should have
# What eyes see, and how often they are mistaken: a terminal backed out by a hair looks like the others.
LOOKS = {"look:fuse": (("blown", "whole"), 0.03), "look:terminals": (("damaged", "good"), 0.25)}

STATES = {
    "key_off": State(),
    "key_on": State(key="on"),
    "plugged": State(key="on", adapter="own"),
    "known_good": State(key="on", adapter="known_good"),
    "dead": State(battery="disconnected"),
    "fuse_out": State(battery="disconnected", fuse="pulled"),
    "no_terminator_1": State(battery="disconnected", unplugged=frozenset({"terminator_1"})),
    "no_terminator_2": State(battery="disconnected", unplugged=frozenset({"terminator_2"})),
    "no_terminators": State(battery="disconnected", unplugged=frozenset(TERMINATORS)),
    "no_modules": State(battery="disconnected", unplugged=frozenset(MODULES)),
    "bare": State(battery="disconnected", unplugged=frozenset({*TERMINATORS, *MODULES})),
    "drain_lifted": State(battery="disconnected", unplugged=frozenset({"drain"})),
}


@dataclass(frozen=True, slots=True)
class Check:
    """One check.

    Attributes:
        id: its name.
        quantity: "dc_volts", "ohms", "listen" (what the adapter shows), "heard" (whose frames it takes)
            or "look" (what eyes see).
        red, black: points; empty with an adapter.
        state_name: key into `STATES`.
        subsystem: what its reading shares with others: "supply", "can", "j1708".
        lines: of high ohms: those with the same entry count once.
        need: what the truck must have for it.
        other_rate: listens at the bit rate that the bus should not have.

    """

    id: str
    quantity: Literal["dc_volts", "ohms", "listen", "heard", "look"]
    red: str
    black: str
    state_name: str
    subsystem: str
    lines: str = ""
    need: Need | None = None
    other_rate: bool = False

    @property
    def state(self) -> State:
        """The state the truck has to be in."""
        return STATES[self.state_name]

    @property
    def observable(self) -> Observable:
        """What the diagnosis needs to know of it."""
        if self.quantity == "dc_volts" or self.quantity == "ohms":  # noqa: PLR1714  so that mypy narrows it
            return Observable(self.id, self.quantity, self.subsystem, self.lines)
        if self.quantity == "look":
            seen, mistaken = LOOKS[self.id]
            return Observable(self.id, "category", self.subsystem, categories=seen, mistaken=mistaken)
        words = SHOWS if self.quantity == "listen" else HEARD
        return Observable(self.id, "category", self.subsystem, categories=words, mistaken=0.05)


def _volts(state: str, subsystem: str, *pairs: str, need: Need | None = None) -> tuple[Check, ...]:
    points = [(pair, *pair.split("-", 1)) for pair in pairs]
    return tuple(
        Check(f"volts:{pair}:{state}", "dc_volts", red, black, state, subsystem, need=need)
        for pair, red, black in points
    )


def _ohms(state: str, subsystem: str, *pairs: str, lines: str = "", need: Need | None = None) -> tuple[Check, ...]:
    points = [(pair, *pair.split("-", 1)) for pair in pairs]
    return tuple(
        Check(f"ohms:{pair}:{state}", "ohms", red, black, state, subsystem, lines, need) for pair, red, black in points
    )


def _listen(name: str, state: str, *, other_rate: bool = False) -> Check:
    return Check(f"listen:{name}", "listen", "", "", state, "listen", other_rate=other_rate)


_TABLE = (
    # Supply, without load and with the adapter as load
    *_volts("key_off", "supply", "battery_positive-battery_negative", "B-A", "B-chassis", "battery_positive-A"),
    *_volts("key_off", "supply", "B.wire-A.wire", "fuse_in-chassis", "fuse_out-chassis"),
    *_volts("key_on", "supply", "battery_positive-battery_negative", "B-A", "chassis-battery_negative"),
    *_volts("key_on", "supply", "battery_positive-fuse_in"),
    *_volts("plugged", "supply", "B.wire-A.wire", "battery_positive-B.wire", "A.wire-battery_negative"),
    *_ohms("dead", "supply", "A-chassis", "A.wire-chassis", "A-A.wire", "A-battery_negative"),
    *_ohms(
        "dead", "supply", "B-fuse_out", "B.wire-fuse_out", "B-B.wire", "fuse_in-fuse_out", "fuse_in-battery_positive"
    ),
    *_ohms("fuse_out", "supply", "fuse_out-chassis", "B-A", lines="feed"),
    # The CAN pair, live
    *_volts("key_on", "can", "C-A", "D-A", "C-D", "C-chassis", "D-chassis", "C.wire-A", "D.wire-A"),
    *_volts("key_on", "can", "terminator_1.high-terminator_1.low", "terminator_2.high-terminator_2.low"),
    *_volts("key_on", "can", "E-A", need="shield"),
    *_volts("key_off", "can", "C-A", "D-A"),
    # The CAN pair, dead
    *_ohms("dead", "can", "C-D", "C.wire-D.wire", lines="can_pair"),
    *_ohms("dead", "can", "C-A", "D-A", "C-chassis", "D-chassis", "C-B", "D-B", lines="can_ground"),
    *_ohms("dead", "can", "C-E", "D-E", lines="can_ground", need="shield"),
    *_ohms("dead", "can", "E-chassis", need="shield"),
    *_ohms("dead", "can", "C-C.wire", "D-D.wire"),
    *_ohms("dead", "can", "C-terminator_1.high", "C-terminator_2.high", "D-terminator_1.low", "D-terminator_2.low"),
    *_ohms("dead", "can", "terminator_1.high-terminator_2.high", "terminator_1.low-terminator_2.low"),
    *_ohms("dead", "can", "terminator_1.a-terminator_1.b", "terminator_2.a-terminator_2.b"),
    *_ohms("no_terminator_1", "can", "terminator_1.a-terminator_1.b"),
    *_ohms("no_terminator_1", "can", "terminator_1.high-terminator_1.low", "C-D", lines="can_pair"),
    *_ohms("no_terminator_2", "can", "terminator_2.a-terminator_2.b"),
    *_ohms("no_terminator_2", "can", "terminator_2.high-terminator_2.low", "C-D", lines="can_pair"),
    *_ohms("no_terminators", "can", "C-D", lines="can_pair"),
    *_ohms("no_modules", "can", "C-A", "D-A", lines="can_ground"),
    *_ohms("no_modules", "can", "C-D", lines="can_pair"),
    *_ohms("bare", "can", "C-D", lines="can_pair"),
    *_ohms("bare", "can", "C-A", "D-A", lines="can_ground"),
    *_ohms("drain_lifted", "can", "C-chassis", "D-chassis", lines="can_ground", need="shield"),
    # J1708
    *_volts("key_on", "j1708", "F-A", "G-A", "F-G", "F.wire-A", "G.wire-A", need="j1708"),
    *_ohms("dead", "j1708", "F-G", "F-A", "G-A", "F-B", "G-B", lines="j1708", need="j1708"),
    *_ohms("dead", "j1708", "F-F.wire", "G-G.wire", need="j1708"),
    # An adapter's own view
    _listen("own", "plugged"),
    _listen("own:other_rate", "plugged", other_rate=True),
    _listen("known_good", "known_good"),
    _listen("known_good:other_rate", "known_good", other_rate=True),
    Check("heard:own", "heard", "", "", "plugged", "listen"),
    # Eyes
    *(Check(name, "look", "", "", "key_off", "look") for name in LOOKS),
)

CHECKS: dict[str, Check] = {check.id: check for check in _TABLE}
