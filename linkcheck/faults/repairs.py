"""What repairs a fault: the steps, roughly how long, and what to mind. Common practice, no source."""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["REPAIRS", "Repair"]


@dataclass(frozen=True, slots=True)
class Repair:
    """One repair.

    Attributes:
        id: its name.
        title: in a few words, as an order.
        steps: in order.
        minutes: about how long, without finding the parts.
        caution: what to mind; empty where nothing special.

    """

    id: str
    title: str
    steps: tuple[str, ...]
    minutes: float
    caution: str = ""


_SAME_RATING = "Only a fuse of the same rating, never a larger one and never a bridge."
_NEGATIVE_FIRST = "Take the negative cable off first and put it back last."

_ROWS = (
    Repair(
        "none",
        "Nothing to repair",
        ("Write down the readings; look for the fault under the conditions of the complaint.",),
        0,
    ),
    Repair(
        "charge_battery",
        "Charge and test the batteries",
        (
            "Clean the posts and charge each battery by itself.",
            "Load-test each battery; replace the set if one fails.",
            "Check that the alternator charges.",
        ),
        60,
        "Batteries give off explosive gas: no sparks, eyes covered.",
    ),
    Repair(
        "clean_clamps",
        "Clean and tighten the battery cables",
        (
            "Take the cables off, negative first.",
            "Clean posts, clamps and the ground point.",
            "Tighten, negative last.",
        ),
        20,
        _NEGATIVE_FIRST,
    ),
    Repair(
        "restore_key_supply",
        "Restore the supply that comes with the key",
        (
            "Measure at the fuse and the relay of the key-on supply.",
            "Follow the circuit back to the key switch; mend what has no volts behind it.",
        ),
        45,
    ),
    Repair(
        "replace_fuse",
        "Replace the feed's fuse, once the reason is known",
        (
            "With the fuse out and the battery off, measure from the dead side of its socket to ground.",
            "Mend what is found; unplug what shares the fuse if nothing is.",
            "Fit a fuse of the same rating and watch it under load.",
        ),
        15,
        _SAME_RATING,
    ),
    Repair(
        "mend_feed",
        "Mend the feed wire",
        ("Find the place by volts along the wire under load.", "Cut back to bright copper and splice, sealed."),
        40,
        "Pull the fuse first.",
    ),
    Repair(
        "clear_feed_short",
        "Find where the feed touches ground and mend it",
        (
            "Pull the fuse; leave the meter from its dead side to ground on ohms.",
            "Move the harness at frame, clips, firewall and cab tilt until the reading jumps.",
            "Mend the wire, guard the place, fit a fuse of the same rating.",
        ),
        60,
        _SAME_RATING,
    ),
    Repair(
        "mend_ground",
        "Mend the ground wire or its stud",
        ("Clean the stud to bare metal, tighten, seal.", "If the wire itself drops volts, splice or replace it."),
        30,
    ),
    Repair(
        "reseat_terminal",
        "Reseat or replace the terminal in its cavity",
        (
            "Push the wire in from behind until it clicks; pull lightly.",
            "Try the grip with a matching test pin; replace a spread terminal.",
            "Put the lock back in.",
        ),
        20,
        "Never push a meter lead into a female terminal: it spreads it.",
    ),
    Repair(
        "mend_stub",
        "Mend the stub to the connector",
        ("Open the stub from the connector to its splice.", "Splice, twisted as before, no longer than it was."),
        45,
    ),
    Repair(
        "mend_backbone",
        "Mend the backbone",
        (
            "Split the backbone at a connector in the middle and measure towards both ends; halve again.",
            "Mend the bad joint or wire, twisted as before.",
        ),
        60,
    ),
    Repair(
        "fit_terminator", "Fit the missing terminator", ("Fit 120 ohm at the end of the backbone, not on a stub.",), 15
    ),
    Repair("fit_terminators", "Fit both terminators", ("Fit 120 ohm at each end of the backbone.",), 25),
    Repair(
        "remove_terminator",
        "Take out what is one terminator too many",
        (
            "Look at what was added or repaired last.",
            "Unplug added devices one at a time until C to D reads about 60 ohm.",
        ),
        25,
        "Never add or remove a terminator to make a reading look right before the reason is known.",
    ),
    Repair(
        "replace_terminator",
        "Replace the terminator",
        ("Measure it alone, unplugged.", "Fit one of 120 ohm if it is outside 108 to 132 ohm."),
        15,
    ),
    Repair(
        "clear_short",
        "Find where the wire touches and mend it",
        (
            "Leave the meter on the pair and unplug modules one at a time; a jump is the module.",
            "If none jumps, split the harness; then move it at frame, clips, firewall and cab tilt.",
            "Mend the wire and guard the place.",
        ),
        75,
    ),
    Repair(
        "clear_supply_short",
        "Find where the wire touches battery positive and mend it",
        (
            "Measure from the wire to B and to the fuse box with the battery off while the harness is moved.",
            "Mend both wires, guard the place, and test every module of the pair: battery volts may have hurt them.",
        ),
        75,
        "Pull the fuses of the harness before it is opened.",
    ),
    Repair(
        "change_over",
        "Change the two wires over",
        ("Compare the cavities with the pinout, from the wire side.", "Move the terminals to their cavities."),
        20,
    ),
    Repair(
        "replace_module",
        "Replace the module that loads the pair",
        (
            "Unplug modules one at a time; the one that lets the reading jump back is it.",
            "Look into its connector for water first; replace the module only if it is dry.",
        ),
        60,
    ),
    Repair(
        "feed_module",
        "Restore the module's supply or ground",
        (
            "Compare the addresses heard with the modules the truck should have.",
            "At the mute module: volts at its supply under load, drop of its ground, its fuse.",
        ),
        45,
    ),
    Repair(
        "mend_module_stub",
        "Mend the module's stub",
        ("Measure at the mute module's own connector, both lines.", "Mend the open or crossed wire."),
        45,
    ),
    Repair(
        "set_module_rate",
        "Set or replace the module that talks at another bit rate",
        ("Unplug modules one at a time until the errors stop.", "Set it to the truck's rate, or fit the right part."),
        40,
    ),
    Repair(
        "dry_connector",
        "Dry and clean the connector",
        (
            "Open it, dry it, clean off green deposits, replace eaten terminals.",
            "Find where the water came from; renew seals and plugs.",
        ),
        40,
    ),
    Repair(
        "set_bit_rate",
        "Set the adapter to the truck's bit rate",
        ("Look at the shell's colour: green is 500 kbit/s.",),
        5,
    ),
    Repair("replace_adapter", "Replace or repair the adapter", ("Try it on a known-good truck first.",), 10),
    Repair(
        "replace_adapter_cable",
        "Replace the adapter's cable",
        ("Try cable and adapter apart, if they come apart.",),
        10,
    ),
    Repair(
        "clear_j1708",
        "Find where the J1708 pair touches and mend it",
        ("Unplug the modules on the pair one at a time.", "If the reading stays, move the harness until it jumps."),
        60,
    ),
    Repair(
        "mend_j1708",
        "Mend the J1708 wire",
        ("Find the break by ohms between connector and a module.", "Splice, twisted."),
        45,
    ),
)

REPAIRS: dict[str, Repair] = {repair.id: repair for repair in _ROWS}
