"""All that is to be said of one bus at one bit rate: margin, limits, the same bus with other terminators, and why.

Faces draw this; nothing is drawn here.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import numpy.typing as npt

from linkcheck.physical.bus import Bus
from linkcheck.physical.edges import Edges, decay_s, look
from linkcheck.physical.line import STEP_S
from linkcheck.physical.margin import Bit, Margin, longest_bus_m, longest_stub_m, some, stub_rule_m, weigh

__all__ = ["Account", "Variant", "account", "reasons"]

Array = npt.NDArray[Any]

HARDLY_LOADED_OHMS = 500.0  # above it edges last many microseconds, and a coarser step will do
COARSE = 4
MOST_SENDERS = 10  # tried on the same bus with other terminators; of more, some evenly spread
USUAL = {"two": (120.0, 120.0), "one": (120.0,), "none": (), "three": (120.0, 120.0, 120.0)}


@dataclass(frozen=True, slots=True)
class Variant:
    """A bus with some terminators.

    Attributes:
        name: "as given", or how many of 120 ohm.
        load_ohms: what a meter shows between the lines.
        driven_volts: the lowest dominant level at rest at any station, one sender driving.
        fall_s: the slowest edge to recessive of one sender, from its switching off to 0.5 V for good.
        rise_s: the slowest edge to dominant, to 0.9 V for good.
        ring_volts, under_volts: how high the lines come up again, how far they fall below zero, at worst.
        lump_decay_s: the decay if the bus were one resistance and one capacitance.
        margin: see `margin`.
        longest_bus_m: to what length the backbone could be drawn out.

    """

    name: str
    load_ohms: float
    driven_volts: float
    fall_s: float
    rise_s: float
    ring_volts: float
    under_volts: float
    lump_decay_s: float
    margin: Margin
    longest_bus_m: float


@dataclass(frozen=True, slots=True, eq=False)
class Account:
    """The bus as given, its limits, and the same with other terminators.

    Attributes:
        bus, bit: what was asked.
        given: the bus as it is.
        others: with two, one, no and three terminators of 120 ohm.
        longest_stub_m: every stub's, before reading fails. stub_rule_m: by the rule of a sixth of the edge.
        fall_volts: float[T], the slowest edge to recessive, from the sender's switching off on. step_s: of that trace.
        fall_from, fall_to: indices of the stations it was seen between.

    """

    bus: Bus
    bit: Bit
    given: Variant
    others: tuple[Variant, ...]
    longest_stub_m: float
    stub_rule_m: float
    fall_volts: Array
    step_s: float
    fall_from: int
    fall_to: int


def account(bus: Bus, bit: Bit) -> Account:
    """Work everything out; some seconds for a large bus.

    Raises:
        UsageError: figures that cannot be.

    """
    n = len(bus.stations)
    edges = _look(bus, n)
    falls = np.where(np.eye(n, dtype=bool), 0.0, edges.fall_s[0, :n])
    sender, receiver = divmod(int(falls.argmax()), n)
    given = _variant("as given", bus, bit, edges)
    wired = {name: bus.terminated(ohms) for name, ohms in USUAL.items()}
    others = tuple(
        replace(given, name=name) if other == bus else _variant(name, other, bit, _look(other, MOST_SENDERS))
        for name, other in wired.items()
    )
    return Account(
        bus,
        bit,
        given,
        others,
        longest_stub_m(bus, bit) if given.margin.works else 0.0,
        stub_rule_m(bus),
        edges.trace(0, sender, receiver)[1],
        edges.swing.step_s,
        sender,
        receiver,
    )


def _look(bus: Bus, senders: int) -> Edges:
    crowded = len(bus.stations) > MOST_SENDERS
    step = COARSE if bus.load_ohms > HARDLY_LOADED_OHMS else 1 + crowded
    return look([bus], step_s=STEP_S * step, senders=some(len(bus.stations), senders))


def _variant(name: str, bus: Bus, bit: Bit, edges: Edges) -> Variant:
    one = slice(0, len(edges.senders))  # of the rows of senders: each alone
    return Variant(
        name,
        bus.load_ohms,
        float(edges.driven_volts[0, one].min()),
        float(edges.fall_s[0, one].max()),
        float(edges.rise_s[0, one].max()),
        float(edges.ring_volts[0, one].max()),
        float(edges.under_volts[0, one].max()),
        decay_s(bus.load_ohms, bus.farads),
        weigh(edges, bit),
        longest_bus_m(bus, bit),
    )


def reasons(found: Account) -> list[str]:
    """Why it works or does not, and how one terminator would do: sentences."""
    bit, bus = found.bit, found.bus
    by_name = {variant.name: variant for variant in found.others}
    two, one, none = by_name["two"], by_name["one"], by_name["none"]
    rate = f"{bit.bit_rate / 1e3:g} kbit/s"
    said = []
    if one.margin.works:
        said.append(
            f"With one terminator this bus would work at {rate}: an edge to recessive runs to the open end, comes "
            f"back and dies down within {_micro(one.fall_s)} ({_micro(two.fall_s)} with two), and receivers look only "
            f"{_micro(bit.sample_point * bit.bit_s)} into the bit. {_until(one, bus, rate)}"
        )
    else:
        said.append(
            f"With one terminator this bus would not work at {rate}: a round needs {_micro(one.margin.needed_s)}, the "
            f"bit gives {_micro(bit.usable_s)}. {_until(one, bus, rate)}"
        )
    if not none.margin.works:
        said.append(
            f"With none, only the modules' inputs ({none.load_ohms:.0f} ohm together) discharge "
            f"{bus.farads * 1e9:.2g} nF: {_micro(none.fall_s)} to 0.5 V, so that nothing is read at {rate}."
        )
    return said


def _until(one: Variant, bus: Bus, rate: str) -> str:
    longest = one.longest_bus_m
    if longest == 0.0:
        return f"At {rate} no length helps."
    if not np.isfinite(longest):
        return ""
    way = "up to" if longest > bus.length_m else "only up to"
    stops = one.margin.stops_at_bit_rate
    return f"At {rate} it goes {way} some {longest:.0f} m, on this length up to some {stops / 1e3:.0f} kbit/s."


def _micro(seconds: float) -> str:
    return f"{seconds * 1e6:.2f} µs" if np.isfinite(seconds) else "more than 40 µs"
