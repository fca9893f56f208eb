"""What can hurt a person or a truck at every diagnostic connector: one list, shown wherever one is measured.

A pinout adds cautions of its own. The wording is ours; the practice is general in the trade.
"""

from __future__ import annotations

from linkcheck.pinout.schema import Caution

__all__ = ["CAUTIONS"]

TRADE = "common practice, no source"

CAUTIONS = (
    Caution("Read the maker's service information first: where it differs from this page, it is right.", TRADE),
    Caution("Park brake on, wheels chocked, transmission in neutral, key out unless a step needs it.", TRADE),
    Caution(
        "Volts first. Ohms only with the key off and the battery's negative cable removed: "
        "a bus that is still awake makes any ohms reading a lie.",
        TRADE,
    ),
    Caution("Negative cable off first and on last; no rings, watches or loose tools near the battery.", TRADE),
    Caution("A new fuse has the rating of the old one, never a larger one, never a bridge; find why it blew.", TRADE),
    Caution(
        "Stay away from orange high-voltage cables unless you are trained and equipped for them.",
        "orange marks high voltage: UN Regulation 100, from memory",
    ),
    Caution("Do not measure airbag or belt tensioner circuits, often sleeved in yellow.", TRADE),
    Caution(
        "Never force a probe into a terminal or through a seal: use a matching test terminal or back-probe.", TRADE
    ),
)
