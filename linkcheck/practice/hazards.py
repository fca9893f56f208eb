"""What would have happened on a real truck: the practice truck lets anybody do anything, and says so afterwards.

Sentences only. The rules are the walk's own cautions turned round (common practice, no source).
"""

from __future__ import annotations

from linkcheck.circuit import State
from linkcheck.practice.hidden_truck import Probe, Seen

__all__ = ["about_change", "about_reading"]

QUIET_VOLTS = 0.05  # below it ohms may be measured; the walk says the same before every reading in ohms
HARD_VOLTS = 6.0  # from here on an ohmmeter's input protection is at work

BLOWN = (
    "On a real truck: the meter is on ohms across {volts:.1f} V. Its fuse may blow, its input may burn, and what it "
    "shows means nothing. Battery off first, then DC volts on the same two points, then ohms."
)
LIVE_PAIR = (
    "On a real truck: there are {volts:.2f} V between these points, so an ohmmeter lies: it takes them for its own. "
    "Battery off first, then DC volts on the same two points, then ohms."
)
CONNECTED = (
    "On a real truck: with the battery connected the electronics push on the same lines as the meter. This figure "
    "jumps about and means nothing, however right it looks. Battery off first."
)
ADAPTER_IN = "The adapter is in the connector, so it is measured along. Unplug it before ohms."
SAME_POINT = "Both leads are on the same point: this shows that meter and leads work, and nothing else."
KEY_ON_CABLE = (
    "On a real truck: the battery cable moved with the key on. The sparks and the surge can kill a module. Key off "
    "first, wait a minute, then the cable."
)
LIVE_PLUG = (
    "On a real truck: a plug on the data link was moved while the key was on. The others set codes for it, and its "
    "driver may be hurt. Key off and battery off first."
)


def about_reading(probe: Probe, state: State, seen: Seen) -> tuple[str, ...]:
    """What to say about a reading that was taken this way; empty where it was well taken."""
    notes = []
    if probe.quantity == "ohms":
        volts = abs(seen.volts_across)
        if volts >= HARD_VOLTS:
            notes.append(BLOWN.format(volts=volts))
        elif volts > QUIET_VOLTS:
            notes.append(LIVE_PAIR.format(volts=volts))
        elif state.battery == "connected":
            notes.append(CONNECTED)
        if state.adapter != "unplugged":
            notes.append(ADAPTER_IN)
    if probe.quantity != "listen" and probe.red == probe.black:
        notes.append(SAME_POINT)
    return tuple(notes)


def about_change(before: State, after: State) -> tuple[str, ...]:
    """What to say about a change of the truck's state."""
    notes = []
    key_on = before.key == "on" and after.key == "on"
    if before.battery != after.battery and key_on:
        notes.append(KEY_ON_CABLE)
    live = key_on and before.battery == after.battery == "connected"
    if live and before.unplugged != after.unplugged:
        notes.append(LIVE_PLUG)
    return tuple(notes)
