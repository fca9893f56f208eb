"""Trouble codes that speak about the network itself, and where they tell a technician to look.

A code about the network is reported by a module that hears; it points away from the one that reports, to a sender that
is silent or to the wires between. SPNs as published in Open-SAE-J1939 (Enum_DM1_DM2.h, commit 22cad285); how to read
them: common practice, no source.
"""

from __future__ import annotations

from linkcheck.j1939.parameter_names import PARAMETER_NAMES

__all__ = ["NETWORK_SPNS", "network_meaning"]

_J1939_NETWORKS = (639, 1231, 1235, *range(1668, 1675))
_OTHER_LINKS = (608, 625, 1230)
_CONTROLLERS = (609, 629)
_HOLD_SIGNAL = 1236

NETWORK_SPNS = frozenset((*_J1939_NETWORKS, *_OTHER_LINKS, *_CONTROLLERS, _HOLD_SIGNAL))

_ON_A_LINK = {  # by failure mode
    2: "what arrives over the {link} comes and goes: look for a loose contact, a missing terminator or a chafed pair, "
    "and see who drops out together",
    3: "the reporter sees the {link} at too high a voltage: look for a short to battery",
    4: "the reporter sees the {link} at too low a voltage: look for a short to ground",
    5: "the reporter finds the {link} open: look at its own stub and connector first",
    6: "the reporter finds the {link} shorted: measure the pair against ground, battery and each other",
    9: "messages that should arrive over the {link} are missing: look for a sender that is silent, not at the reporter",
    12: "the reporter blames its own interface to the {link}: check its power and ground before replacing it",
    19: "messages arrive over the {link} marked as wrong: look at the sender and its sensors, not at the reporter",
}
_ON_A_LINK_OTHERWISE = "the reporter has trouble with the {link}: see which addresses it no longer hears"
_ON_A_VALUE = {  # failure modes that speak about the network whatever the parameter: it is expected from elsewhere
    9: "{value} arrives too seldom: look for its sender, which is silent or cut off, not at the reporter",
    19: "{value} arrives marked as wrong: look at the module that sends it and its sensor, not at the reporter",
}
_OTHER_CONTROLLER = "a controller the reporter listens to is missing or wrong: look for the address that is silent"
_OWN_CONTROLLER = (
    "the reporter blames a controller, most often itself: check its power, ground and connector before replacing it"
)
_HOLD = "a tool has asked the modules to stop broadcasting: end that first, or unplug it and wait six seconds"


def network_meaning(spn: int, fmi: int) -> str | None:
    """Where a code tells you to look, in one sentence; None when it says nothing about the network."""
    if spn in _J1939_NETWORKS or spn in _OTHER_LINKS:
        text = _ON_A_LINK.get(fmi, _ON_A_LINK_OTHERWISE).format(link=PARAMETER_NAMES[spn])
    elif spn in _CONTROLLERS:
        text = _OTHER_CONTROLLER if fmi in _ON_A_VALUE else _OWN_CONTROLLER
    elif spn == _HOLD_SIGNAL:
        text = _HOLD
    elif fmi in _ON_A_VALUE:
        text = _ON_A_VALUE[fmi].format(value=PARAMETER_NAMES.get(spn, f"the value of SPN {spn}"))
    else:
        return None
    return f"{text[0].upper()}{text[1:]}."
