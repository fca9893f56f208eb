"""Each repair in plain words for the customer: what was wrong, what was done. A table; no trade terms in it.

One row for each repair of the catalogue; a test holds that none is missing.
"""

from __future__ import annotations

from typing import NamedTuple

__all__ = ["PLAIN", "Plain"]


class Plain(NamedTuple):
    """What was wrong and what was done, each a sentence."""

    wrong: str
    done: str


PLAIN: dict[str, Plain] = {
    "none": Plain(
        "We found nothing wrong with the wiring between the diagnostic plug and the truck's computers.",
        "Nothing had to be repaired.",
    ),
    "charge_battery": Plain(
        "The batteries were too weak to run the truck's computers properly.", "We charged and tested the batteries."
    ),
    "clean_clamps": Plain("A battery cable made poor contact.", "We cleaned and tightened the battery cables."),
    "restore_key_supply": Plain(
        "The truck's computers got no power when the key was turned on.", "We restored that power supply."
    ),
    "replace_fuse": Plain(
        "The fuse that powers the diagnostic plug had blown.",
        "We looked for the reason and fitted a new fuse of the same rating.",
    ),
    "mend_feed": Plain("The wire that powers the diagnostic plug was damaged.", "We mended that wire."),
    "clear_feed_short": Plain(
        "The wire that powers the diagnostic plug touched metal and blew its fuse.",
        "We mended and protected the wire and fitted a new fuse.",
    ),
    "mend_ground": Plain(
        "The ground connection of the diagnostic plug was bad.", "We cleaned and mended that connection."
    ),
    "reseat_terminal": Plain("A contact in the diagnostic plug was loose.", "We put the contact back in place."),
    "mend_stub": Plain(
        "A data wire between the diagnostic plug and the truck's data line was damaged.", "We mended that wire."
    ),
    "mend_backbone": Plain("The data line that connects the truck's computers was damaged.", "We mended that line."),
    "fit_terminator": Plain(
        "An end piece of the truck's data line was missing, so messages got lost.", "We fitted the missing end piece."
    ),
    "fit_terminators": Plain(
        "Both end pieces of the truck's data line were missing, so messages got lost.", "We fitted both end pieces."
    ),
    "remove_terminator": Plain(
        "The truck's data line had an end piece too many, which weakened its signals.", "We took the extra one out."
    ),
    "replace_terminator": Plain("An end piece of the truck's data line was faulty.", "We replaced it."),
    "clear_short": Plain(
        "A data wire touched metal or another wire, which silenced the truck's computers.",
        "We found the place, mended the wire and protected it.",
    ),
    "clear_supply_short": Plain(
        "A data wire touched a power wire, which silenced the truck's computers.",
        "We mended both wires and tested the computers on them.",
    ),
    "change_over": Plain("Two data wires had been swapped.", "We put them back where they belong."),
    "replace_module": Plain(
        "One of the truck's computers disturbed the data line for all the others.",
        "We found which one and repaired or replaced it.",
    ),
    "feed_module": Plain("One of the truck's computers got no power.", "We restored its power."),
    "mend_module_stub": Plain("The data wire to one of the truck's computers was damaged.", "We mended that wire."),
    "set_module_rate": Plain("One of the truck's computers talked at the wrong speed.", "We set it right."),
    "dry_connector": Plain("Water or corrosion had got into a plug.", "We dried, cleaned and sealed it."),
    "set_bit_rate": Plain(
        "The truck was sound; our test device was set to the wrong speed.", "We set the device right."
    ),
    "replace_adapter": Plain("The truck was sound; our test device did not start.", "We used another device."),
    "replace_adapter_cable": Plain(
        "The truck was sound; the cable of our test device was faulty.", "We used another cable."
    ),
    "clear_j1708": Plain("The wires of the truck's older data line touched metal or each other.", "We mended them."),
    "mend_j1708": Plain("A wire of the truck's older data line was damaged.", "We mended that wire."),
}
