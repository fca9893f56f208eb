"""What to do before a reading, in words: the changes since the last check, then the leads. Sentences only."""

from __future__ import annotations

from collections.abc import Iterator

from linkcheck.circuit import State
from linkcheck.pinout import CAUTIONS, Caution
from linkcheck.walk.checks import Check
from linkcheck.walk.layout import Layout

__all__ = ["CAUTION_TOPICS", "cautions_for", "point_words", "state_words", "steps"]

_POINTS = {
    "chassis": "bare chassis metal",
    "battery_positive": "the battery's positive post",
    "battery_negative": "the battery's negative post",
    "fuse_in": "the fed side of the feed's fuse",
    "fuse_out": "the far side of the feed's fuse",
}
_ADAPTERS = {"own": "your adapter", "known_good": "a known-good adapter"}
_LOOKS = {
    "look:fuse": "Look at the fuse of the connector's feed: is its element whole, or blown? Put it back as it was.",
    "look:terminals": "Look into the connector, both sides: is a terminal backed out, bent, spread, green or wet?",
}
_DARK = "Wait a minute; leave doors, switches and the key alone."
_QUIET = "On DC volts first, the same two points: under 0.05 V. If not, wait or find what still feeds them. Then ohms."


def point_words(point: str, layout: Layout) -> str:
    """A point as one says it: "the back of cavity B", "terminator 1, high line, harness side"."""
    if point in _POINTS:
        return _POINTS[point]
    place, _, end = point.partition(".")
    if place.startswith("terminator"):
        number = place[-1]
        if end in ("a", "b"):
            return f"terminator {number}'s own pin {end}"
        return f"the CAN {end} wire at terminator {number}'s plug"
    name = layout.labels.get(place, place)
    return f"the back of cavity {name} (wire side)" if end == "wire" else f"cavity {name}"


def _thing(name: str) -> str:
    return "the shield's drain wire" if name == "drain" else name.replace("_", " ")


def state_words(state: State) -> str:
    """A state in a few words: "key on, adapter plugged in"."""
    words = ["battery off"] if state.battery == "disconnected" else [f"key {state.key}"]
    if state.adapter != "unplugged":
        words.append(f"{_ADAPTERS[state.adapter]} plugged in")
    if state.fuse == "pulled":
        words.append("fuse out")
    words += sorted(f"{_thing(name)} off" for name in _grouped(state.unplugged))
    return ", ".join(words)


def _grouped(names: frozenset[str]) -> frozenset[str]:
    """All eight modules are said in one word."""
    modules = {name for name in names if name.startswith("module")}
    return names - modules | {"all modules"} if len(modules) > 1 else names


def _changes(before: State, after: State) -> Iterator[str]:
    """What to change, in a safe order: everything is unplugged and joined with the battery off where it can be."""
    if before.key == "on" and after.key == "off":
        yield "Turn the key off."
    if before.adapter not in (after.adapter, "unplugged"):
        yield "Unplug the adapter."
    if before.battery == "connected" and after.battery == "disconnected":
        yield f"Take the battery's negative cable off. {_DARK}"
    for name in sorted(_grouped(after.unplugged - before.unplugged)):
        yield f"{'Lift' if name == 'drain' else 'Unplug'} {_thing(name)}."
    for name in sorted(_grouped(before.unplugged - after.unplugged)):
        yield f"{'Put back' if name == 'drain' else 'Plug in again:'} {_thing(name)}."
    if before.fuse != after.fuse:
        yield "Pull the fuse of the connector's feed." if after.fuse == "pulled" else "Put the feed's fuse back."
    if before.battery == "disconnected" and after.battery == "connected":
        yield "Put the battery's negative cable back on."
    if after.adapter not in (before.adapter, "unplugged"):
        yield f"Plug {_ADAPTERS[after.adapter]} in."
    if before.key == "off" and after.key == "on":
        yield "Turn the key on."


def steps(check: Check, before: State, layout: Layout, bit_rate: float) -> list[str]:
    """All that has to be done for a check, from the state the truck is in."""
    found = list(_changes(before, check.state))
    if check.quantity == "listen":
        found.append(f"Let it listen only, at {bit_rate / 1000:g} kbit/s, for ten seconds. What does it show?")
    elif check.quantity == "heard":
        found.append("Look at the list of addresses heard. Is every module of the truck on it?")
    elif check.quantity == "look":
        found.append(_LOOKS[check.id])
    elif check.quantity == "dc_volts":
        found.append(_leads(check, layout))
    else:
        found += [_leads(check, layout), _QUIET]
    return found


def _leads(check: Check, layout: Layout) -> str:
    meter = "DC volts" if check.quantity == "dc_volts" else "Ohms"
    return f"{meter}: red lead to {point_words(check.red, layout)}, black lead to {point_words(check.black, layout)}."


# Words of a caution to the kind of step that it belongs to; any other is shown at the start.
CAUTION_TOPICS = {
    "Negative cable off": "battery",
    "Volts first": "ohms",
    "new fuse": "fuse",
    "force a probe": "probe",
}


def cautions_for(check: Check, extra: tuple[Caution, ...], shown: frozenset[str]) -> list[str]:
    """Cautions to read before a check, less those that were shown; "start" topics come before the first check."""
    topics = {"start"}
    if check.state.battery == "disconnected":
        topics.add("battery")
    if check.quantity == "ohms":
        topics.add("ohms")
    if check.state.fuse == "pulled" or "fuse" in check.id:
        topics.add("fuse")
    if check.red or check.black:
        topics.add("probe")
    found = []
    for caution in (*CAUTIONS, *extra):
        topic = next((topic for words, topic in CAUTION_TOPICS.items() if words in caution.text), "start")
        if topic in topics and caution.text not in shown:
            found.append(caution.text)
    return found
