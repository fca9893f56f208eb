"""What a lesson shows, as finished values and words for a screen: how the truck stands, what was read, the advice.

A lesson and, where the learner wants it, the adviser in; a frozen `LessonSheet` out. Working out advice takes a tenth
of a second, so a screen has this made beside it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from linkcheck.circuit import MODULES, State
from linkcheck.faults.catalogue import FAULTS
from linkcheck.j1939.addresses import address_name
from linkcheck.jobs.sheet import Suspect, expected_words, sheet_of
from linkcheck.practice.account import probe_words, seen_words, state_line
from linkcheck.practice.adviser import Adviser
from linkcheck.practice.hidden_faults import MODULE_ADDRESSES
from linkcheck.practice.lesson import Lesson, Step
from linkcheck.practice.setting_out import Request
from linkcheck.walk.layout import Layout

__all__ = ["PLUGS", "AdviceSheet", "LessonLine", "LessonSheet", "lesson_sheet", "plug_words"]

ADAPTER_WORDS = {"unplugged": "not plugged in", "own": "yours, plugged in", "known_good": "known-good, plugged in"}
# What can be unplugged on this truck, in the order in which it is offered.
PLUGS = ("terminator_1", "terminator_2", *MODULES[: len(MODULE_ADDRESSES)], "drain")


@dataclass(frozen=True, slots=True)
class LessonLine:
    """A step in words.

    Attributes:
        what: was done: "ohms C to D", "key on", "repair: ...".
        shown: what came of it; empty for a change of state.
        state: how the truck stood.
        notes: what would have happened on a real truck.

    """

    what: str
    shown: str
    state: str
    notes: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class AdviceSheet:
    """The tool's advice in words.

    Attributes:
        words: in a line; do: steps; expect: what a sound truck shows; why: what it splits.
        suspects: most likely first, with the share that nobody listed.
        can_do: there is a check to make.

    """

    words: str
    do: tuple[str, ...]
    expect: str
    why: str
    suspects: tuple[Suspect, ...]
    none_of_these: float
    can_do: bool


@dataclass(frozen=True, slots=True)
class LessonSheet:
    """What a lesson shows.

    Attributes:
        title: which truck.
        state: how it stands: key, battery, adapter, fuse, plugs; each in a word or two.
        lines: what was done, in order.
        reading: the last step, where it was a reading.
        leads: cavity label to "RED" or "BLK", of the last reading.
        back: the last reading had a lead at the back of a cavity.
        readings, minutes: so far.
        advice: None where the learner does not want it.

    """

    title: str
    state: Mapping[str, str]
    lines: tuple[LessonLine, ...]
    reading: LessonLine | None
    leads: Mapping[str, str]
    back: bool
    readings: int
    minutes: float
    advice: AdviceSheet | None


def plug_words(name: str) -> str:
    """Something that can be unplugged: "module 3 (brake system controller)", "terminator 1", "the shield's drain"."""
    if name == "drain":
        return "the shield's drain wire"
    if name.startswith("module"):
        number = int(name.removeprefix("module_"))
        return f"module {number} ({address_name(MODULE_ADDRESSES[number - 1])})"
    return name.replace("_", " ")


def lesson_sheet(request: Request, lesson: Lesson, layout: Layout, adviser: Adviser | None) -> LessonSheet:
    """The sheet of a lesson as it stands.

    Args:
        request: what was asked for.
        lesson: the learner's.
        layout: the connector's.
        adviser: where the learner wants advice.

    """
    last = lesson.steps[-1] if lesson.steps else None
    reading = next((step for step in reversed(lesson.steps) if step.kind == "reading"), None)
    leads, back = _leads(reading, layout)
    kind = "fault chosen" if request.faults else request.difficulty
    return LessonSheet(
        title=f"Truck {request.seed}, {kind}, {request.system_volts:g} V",
        state=_state(lesson.state),
        lines=tuple(_line(step, layout) for step in lesson.steps),
        reading=_line(last, layout) if last is not None and last.kind == "reading" else None,
        leads=leads,
        back=back,
        readings=len(lesson.readings),
        minutes=lesson.minutes,
        advice=_advice(adviser, lesson.state) if adviser is not None else None,
    )


def _state(state: State) -> dict[str, str]:
    fitted = [name for name in PLUGS if name in state.unplugged]
    plugs = "all in"
    if fitted:
        plugs = f"off: {plug_words(fitted[0])}" if len(fitted) == 1 else f"{len(fitted)} are off"
    return {
        "key": state.key,
        "battery": state.battery,
        "adapter": ADAPTER_WORDS[state.adapter],
        "fuse": state.fuse,
        "plugs": plugs,
    }


def _line(step: Step, layout: Layout) -> LessonLine:
    if step.probe is not None and step.seen is not None:
        return LessonLine(probe_words(step.probe, layout), seen_words(step.seen), state_line(step.state), step.notes)
    if step.kind == "repair":
        return LessonLine(f"repair: {FAULTS[step.fault].title}", step.outcome, state_line(step.state), step.notes)
    return LessonLine(state_line(step.state), "", "", step.notes)


def _leads(reading: Step | None, layout: Layout) -> tuple[dict[str, str], bool]:
    probe = reading.probe if reading is not None else None
    if probe is None or probe.quantity == "listen":
        return {}, False
    found, back = {}, False
    for point, lead in ((probe.red, "RED"), (probe.black, "BLK")):
        letter, _, end = point.partition(".")
        if letter in layout.labels:
            found[layout.labels[letter]] = lead
            back = back or end == "wire"
    return found, back


def _advice(adviser: Adviser, state: State) -> AdviceSheet:
    advice = adviser.advice(state)
    told = sheet_of(adviser.session)
    return AdviceSheet(
        words=advice.words,
        do=advice.do,
        expect=expected_words(advice.expect) if advice.expect else "",
        why=advice.why,
        suspects=told.suspects,
        none_of_these=told.none_of_these,
        can_do=advice.check is not None,
    )
