"""The readable page of `linkcheck edges` for a described bus: verdict, figures, plot, other terminators, why."""

from __future__ import annotations

import math
import textwrap

from linkcheck.cli.trace_plot import trace_plot
from linkcheck.physical.account import Account, Variant, reasons
from linkcheck.physical.edges import DOMINANT_VOLTS, RECESSIVE_VOLTS

__all__ = ["page"]

LABEL = 16
PLOT_LINES = 9
THIN = 0.15  # of a bit: a margin that a warm or old bus may eat


def page(found: Account, width: int) -> str:
    """The whole answer as text, `width` columns wide."""
    lines = [*_head(found, width), "═" * width, *_verdict(found, width), "", *_figures(found, width), ""]
    lines += [*_plot(found, width), "", *_others(found), ""]
    lines += [line for reason in reasons(found) for line in (*textwrap.wrap(reason, width), "")]
    lines += textwrap.wrap(
        "Lossless lines, so ringing is a little worse here than on a real cable. The rule for stubs: one-way delay "
        "at most a sixth of the edge. SAE J1939-11 allows 1 m (from memory).",
        width,
    )
    return "\n".join(line.rstrip() for line in lines).rstrip()


def _head(found: Account, width: int) -> list[str]:
    bus, cable = found.bus, found.bus.cable
    stubs = sorted({station.stub_m for station in bus.stations})
    length = f"{stubs[0]:g} m" if len(stubs) == 1 else f"{stubs[0]:g} to {stubs[-1]:g} m"
    terms = " + ".join(f"{t.ohms:g} ohm at {t.at_m:g} m" for t in bus.terminators) or "none"
    text = (
        f"{found.bit.bit_rate / 1e3:g} kbit/s, {bus.length_m:g} m, {len(bus.stations)} nodes on stubs of {length}; "
        f"terminators {terms}; cable {cable.impedance_ohms:g} ohm, {cable.delay_ns_per_m:.3g} ns/m, "
        f"{cable.picofarads_per_m:.0f} pF/m"
    )
    return textwrap.wrap(text, width)


def _verdict(found: Account, width: int) -> list[str]:
    margin = found.given.margin
    if not margin.works:
        text = "Does not work: " + (
            f"the slowest round needs {_micro(margin.needed_s)}, the bit gives {_micro(margin.usable_s)}."
            if math.isfinite(margin.needed_s)
            else _never(found.given)
        )
    elif margin.share < THIN:
        text = f"Works, but only {margin.share:.0%} of a bit is to spare."
    else:
        text = f"Works, with {margin.share:.0%} of a bit to spare."
    return textwrap.wrap(f"VERDICT  {text}", width, subsequent_indent=" " * 9)


def _never(given: Variant) -> str:
    if given.driven_volts < DOMINANT_VOLTS:
        return f"a driver reaches only {given.driven_volts:.2f} V into {given.load_ohms:.0f} ohm; 0.9 V is needed."
    return "an edge never settles below 0.5 V in time."


def _figures(found: Account, width: int) -> list[str]:
    given, margin, bit = found.given, found.given.margin, found.bit
    a, b = (_station(found, k) for k in (found.fall_from, found.fall_to))
    recessive = (
        f"{_micro(given.fall_s)} from switching off to 0.5 V for good, slowest from {a} to {b}; as one RC of "
        f"{given.load_ohms:.0f} ohm and {found.bus.farads * 1e9:.2f} nF: {_micro(given.lump_decay_s)}"
    )
    sample = (
        f"({bit.sample_point:.1%} of a bit, {_micro(bit.sample_point * bit.bit_s)}) recessive "
        f"{margin.recessive_volts:.2f} V of 0.50 at most, dominant {margin.dominant_volts:.2f} V of 0.90 at least, "
        f"after the acknowledgement {margin.returned_volts:.2f} V of 0.50 at most"
    )
    slowest = (
        f"there, through a transceiver, back: {_micro(margin.needed_s)} of {_micro(margin.usable_s)}, "
        f"between {_station(found, margin.sender)} and {_station(found, margin.receiver)}"
    )
    stub = f"{_metres(found.longest_stub_m)} each before reading fails" if margin.works else "no length helps"
    longest = (
        f"{_metres(given.longest_bus_m)} with these terminators and stubs" if given.longest_bus_m else "none works"
    )
    rows = [
        ("To recessive", recessive),
        ("To dominant", f"{_micro(given.rise_s)} to 0.9 V for good; driven to {given.driven_volts:.2f} V at least"),
        ("Ringing", f"comes up again to {given.ring_volts:.2f} V, falls to {-given.under_volts:.2f} V at worst"),
        ("At the sample", sample),
        ("Slowest round", slowest),
        ("Margin", f"{margin.share:.1%} of a bit" if math.isfinite(margin.share) else "none"),
        ("Stops working", f"above {_rate(margin.stops_at_bit_rate)} with this wiring"),
        (
            "Longest stub",
            f"{stub}; {found.stub_rule_m:.2f} m by the rule",
        ),
        ("Longest bus", longest),
    ]
    return [
        line
        for label, text in rows
        for line in textwrap.wrap(f"{label:<{LABEL}}{text}", width, subsequent_indent=" " * LABEL)
    ]


def _plot(found: Account, width: int) -> list[str]:
    settle = found.given.fall_s if math.isfinite(found.given.fall_s) else found.bit.bit_s
    rows = int(min(len(found.fall_volts), max(2.5 * settle, 0.5e-6) / found.step_s))
    title = f"Slowest edge to recessive, {_station(found, found.fall_from)} to {_station(found, found.fall_to)}"
    sample = found.bit.sample_point * found.bit.bit_s
    where = "▲ sample" if sample < rows * found.step_s else f"the sample comes at {_micro(sample)}, far right of this"
    levels = (DOMINANT_VOLTS, RECESSIVE_VOLTS)
    plot = trace_plot(found.fall_volts[:rows], found.step_s, min(width, 100), PLOT_LINES, levels, mark_s=sample)
    return [title, *plot, f"{'':9}{where}"]


def _others(found: Account) -> list[str]:
    head = f"{'Terminators':<18}{'meter':>9}{'driven':>9}{'settles':>12}{'margin':>9}{'stops at':>13}{'longest':>10}"
    lines = [head]
    for each in (found.given, *found.others):
        margin = each.margin
        share = f"{margin.share:.0%}" if math.isfinite(margin.share) else "none"
        name = each.name if each is found.given else f"{each.name}{' of 120 ohm' if each.load_ohms < 1e3 else ''}"
        lines.append(
            f"{name:<18}{f'{each.load_ohms:.0f} ohm':>9}{f'{each.driven_volts:.2f} V':>9}{_micro(each.fall_s):>12}"
            f"{share:>9}{_rate(margin.stops_at_bit_rate):>13}{_metres(each.longest_bus_m):>10}"
        )
    return lines


def _station(found: Account, index: int) -> str:
    return f"node {index + 1} ({found.bus.stations[index].at_m:.3g} m)"


def _micro(seconds: float) -> str:
    return f"{seconds * 1e6:.2f} µs" if math.isfinite(seconds) else "> 40 µs"


def _rate(bit_rate: float) -> str:
    return f"{bit_rate / 1e3:.0f} kbit/s" if bit_rate else "any rate"


def _metres(metres: float) -> str:
    if not math.isfinite(metres):
        return "> 600 m"
    if metres == 0.0:
        return "none"
    return f"{metres:.0f} m" if metres >= 10 else f"{metres:.1f} m"
