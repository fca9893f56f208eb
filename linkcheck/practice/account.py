"""A lesson told in words: what was done, what it was, and how the learner's path compares with the tool's own.

Sentences and rows of text for every face; nothing is computed here that `lesson` and `judgement` do not know.
"""

from __future__ import annotations

from collections.abc import Iterable

from linkcheck.circuit import State
from linkcheck.faults.catalogue import FAULTS
from linkcheck.faults.repairs import REPAIRS
from linkcheck.j1939.addresses import address_name
from linkcheck.practice.hidden_faults import MODULE_ADDRESSES
from linkcheck.practice.hidden_truck import HiddenFault, Probe, Seen
from linkcheck.practice.judgement import Verdict
from linkcheck.practice.lesson import Step
from linkcheck.walk.layout import Layout
from linkcheck.walk.reasons import figure_words
from linkcheck.walk.steps import point_words, state_words
from linkcheck.walk.table import RATES_TOGETHER

__all__ = [
    "counted",
    "fault_words",
    "path_rows",
    "point_label",
    "probe_words",
    "seen_words",
    "state_line",
    "step_words",
    "verdict_lines",
]


def point_label(point: str, layout: Layout) -> str:
    """A point as the walk says it, with the numbers of modules told: "the CAN high wire at module 3's plug"."""
    if point.startswith("module"):
        name, line = point.split(".")
        number = int(name.removeprefix("module_"))
        return f"the CAN {line} wire at module {number}'s plug ({address_name(MODULE_ADDRESSES[number - 1])})"
    return point_words(point, layout)


def probe_words(probe: Probe, layout: Layout) -> str:
    """A probe in a line: "ohms C to D"."""
    if probe.quantity == "listen":
        rate = layout.equipment.bit_rate
        other = probe.bit_rate == RATES_TOGETHER - rate
        return "adapter listening" + (" at the other bit rate" if other else "")
    name = "volts" if probe.quantity == "dc_volts" else "ohms"
    red, black = (layout.named(point).replace("_", " ") for point in (probe.red, probe.black))
    return f"{name} {red} to {black}"


def state_line(state: State) -> str:
    """A state in a few words; with the battery off also that the key was left on."""
    left_on = state.battery == "disconnected" and state.key == "on"
    return state_words(state) + (", key left on" if left_on else "")


def seen_words(seen: Seen) -> str:
    """What was shown; of an adapter that takes frames, also from whom and who is missing."""
    if not seen.heard:
        return seen.shown
    missing = [address_name(each) for each in MODULE_ADDRESSES if each not in seen.heard]
    who = "all six modules" if not missing else f"{len(seen.heard)} of 6 modules; not heard: {', '.join(missing)}"
    return f"{seen.shown}, from {who}"


def step_words(step: Step, layout: Layout) -> str:
    """A step in a line."""
    if step.kind == "reading" and step.probe is not None and step.seen is not None:
        return f"{probe_words(step.probe, layout)}, {state_line(step.state)}: {seen_words(step.seen)}"
    return step.outcome if step.kind == "repair" else f"Now: {state_line(step.state)}."


def fault_words(fault: HiddenFault, layout: Layout) -> str:
    """A hidden fault in a sentence: what, where, how far."""
    words = layout.named(FAULTS[fault.id].title)
    if fault.where:
        words += f": {layout.named(fault.where)}"
    if fault.severity is None:
        return f"{words}."
    figure = f"{fault.severity:.0%} {fault.unit}" if fault.unit != "ohm" else figure_words(fault.severity, "ohms")
    return f"{words}, {figure}."


def verdict_lines(verdict: Verdict, layout: Layout) -> list[str]:
    """What it was, whether it was found, and the comparison, in sentences."""
    lines = [f"It was: {fault_words(fault, layout)}" for fault in verdict.hidden]
    if not verdict.hidden:
        lines.append("It was: nothing. This truck's data link is sound, and that takes proof as well.")
    lines.append(_result(verdict))
    best = verdict.best
    lines.append(f"You: {counted(verdict.readings)}, {verdict.minutes:.1f} minutes.")
    lines.append(f"The tool's own walk on this truck: {counted(best.readings)}, {best.minutes:.1f} minutes.")
    if set(best.named) != {fault.id for fault in verdict.hidden} or not best.finding.confirmed:
        named = " and ".join(layout.named(FAULTS[fault].title) for fault in best.named) or "nothing wrong"
        proven = "proven" if best.finding.confirmed else "not proven"
        lines.append(f"The tool did not do so well here: it ended with {named[0].lower()}{named[1:]}, {proven}.")
    if verdict.warnings:
        times = "once" if verdict.warnings == 1 else f"{verdict.warnings} times"
        lines.append(f"On a real truck it would have hurt {times}; the notes beside your steps say where.")
    lines += [f"Repair: {REPAIRS[FAULTS[fault.id].repair].title}." for fault in verdict.hidden]
    return lines


def _result(verdict: Verdict) -> str:
    wasted = sum(REPAIRS[FAULTS[fault].repair].minutes for fault in verdict.needless)
    if verdict.found:
        return "You found it." if verdict.hidden else "You left it alone: right."
    told = []
    missed = [FAULTS[fault.id].title for fault in verdict.hidden if fault.id not in verdict.repaired]
    if verdict.repaired:
        told.append("You found " + ("a part of it." if missed else "it."))
    if missed:
        told.append(f"Still there: {'; '.join(missed)}.")
    if verdict.needless:
        names = "; ".join(dict.fromkeys(FAULTS[fault].title for fault in verdict.needless))
        told.append(f"Repaired for nothing: {names}, about {wasted:g} minutes of work.")
    return " ".join(told)


def counted(readings: int) -> str:
    """As in "1 reading", "7 readings"."""
    return f"{readings} reading" + ("" if readings == 1 else "s")


def path_rows(verdict: Verdict, steps: Iterable[Step], layout: Layout) -> list[tuple[str, str]]:
    """Both paths side by side, reading by reading: the learner's and the tool's; an empty cell where one has ended."""
    mine = [
        f"{probe_words(step.probe, layout)}: {step.seen.shown}"
        if step.probe and step.seen
        else f"repair: {FAULTS[step.fault].title}"
        for step in steps
        if step.kind != "change"
    ]
    tools = [f"{step.words}: {step.shown}" for step in verdict.best.steps]
    longest = max(len(mine), len(tools))
    return [(mine[row] if row < len(mine) else "", tools[row] if row < len(tools) else "") for row in range(longest)]
