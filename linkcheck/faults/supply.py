"""Faults of the supply: battery, key, fuse, feed, ground, and the connector's own terminals for them."""

from __future__ import annotations

import math

from linkcheck.faults.fault import Cause, Fault, LookAlike, Proof, any_of, together

__all__ = ["SUPPLY_FAULTS"]

OL = math.inf

_BATTERY_GOOD = Proof("volts:battery_positive-battery_negative:key_on", 11.8, 13.2, follows_system=True)
_FEED_GOOD = Proof("volts:B-A:key_off", 11.8, 13.2, follows_system=True)
_LOADED_GOOD = Proof("volts:B.wire-A.wire:plugged", 11.4, 13.2, follows_system=True)
_FEED_DROP_GOOD = Proof("volts:battery_positive-B.wire:plugged", -0.05, 0.2)
_GROUND_DROP_GOOD = Proof("volts:A.wire-battery_negative:plugged", -0.05, 0.1)
_ADAPTER_UP = Proof("listen:own", shows=("silent", "errors", "frames"))

_WATER = Cause("water and corrosion")
_CHAFED = Cause("harness chafed at frame, clips, firewall or cab tilt")
_PROBED = Cause("terminal spread by a meter lead or many matings")

SUPPLY_FAULTS = (
    Fault(
        id="battery_low",
        title="Batteries low or discharged",
        subsystem="supply",
        odds=4.0,
        judgement="Among the first causes named wherever a truck stood for long.",
        repair="charge_battery",
        causes=(Cause("a load left on"), Cause("the alternator does not charge"), Cause("a dead cell in one battery")),
        proof=any_of(
            Proof("volts:battery_positive-battery_negative:key_off", -1.0, 11.9, follows_system=True),
            Proof("volts:battery_positive-battery_negative:key_on", -1.0, 11.6, follows_system=True),
        ),
        after=(_BATTERY_GOOD, _LOADED_GOOD),
        look_alikes=(
            LookAlike(
                "battery_connection",
                "volts:battery_positive-battery_negative:key_on",
                "On the posts themselves: low is the battery, good is its cables.",
            ),
        ),
        caution="Batteries give off explosive gas: no sparks, eyes covered.",
    ),
    Fault(
        id="battery_connection",
        title="Bad battery clamp, cable or ground strap",
        subsystem="supply",
        odds=1.0,
        judgement="Corroded clamps are common; bad enough to hurt the data link, they are seldom.",
        repair="clean_clamps",
        causes=(_WATER, Cause("clamp left loose after other work")),
        proof=any_of(
            Proof("volts:chassis-battery_negative:key_on", 0.3, 30.0),
            Proof("volts:battery_positive-fuse_in:key_on", 0.4, 30.0),
        ),
        after=(_LOADED_GOOD, _FEED_DROP_GOOD, _GROUND_DROP_GOOD),
        look_alikes=(
            LookAlike(
                "battery_low", "volts:battery_positive-battery_negative:key_on", "Good volts on the posts: the cables."
            ),
            LookAlike(
                "ground_resistance",
                "volts:chassis-battery_negative:key_on",
                "Some volts from the chassis to the post: the cable. None: the connector's own ground.",
            ),
        ),
        caution="Take the negative cable off first and put it back last.",
    ),
    Fault(
        id="key_supply_dead",
        title="Nothing wakes with the key",
        subsystem="supply",
        odds=2.0,
        judgement="Rarer than a feed fault; then the whole cab is dark, which is often said beforehand.",
        repair="restore_key_supply",
        causes=(Cause("blown fuse or relay of the key-on supply"), Cause("key switch")),
        proof=together(
            Proof("volts:C-A:key_on", -0.5, 1.5),
            Proof("ohms:C-A:dead", 500.0, OL),
        ),
        after=(Proof("volts:C-A:key_on", 1.9, 3.2), Proof("listen:own", shows=("frames",))),
        look_alikes=(
            LookAlike(
                "adapter_data",
                "volts:C-A:key_on",
                "About 2.5 V and moving: the modules are awake, so the adapter does not hear them.",
            ),
        ),
    ),
    Fault(
        id="feed_fuse_open",
        title="Fuse of the connector's feed blown or missing",
        subsystem="supply",
        odds=8.0,
        judgement="The cause most often named for a connector without power.",
        repair="replace_fuse",
        causes=(
            Cause("the feed touches ground", "feed_short_to_ground", "ohms:fuse_out-chassis:fuse_out"),
            Cause("another consumer on the same fuse"),
            Cause("an adapter or a device at the connector that took too much current"),
            Cause("a fuse of too small a rating, or age"),
        ),
        proof=any_of(Proof("ohms:fuse_in-fuse_out:dead", 15.0, OL))
        + together(
            Proof("volts:fuse_in-chassis:key_off", 11.0, 15.0, follows_system=True),
            Proof("look:fuse", shows=("blown",)),
        )
        + together(
            Proof("volts:fuse_in-chassis:key_off", 11.0, 15.0, follows_system=True),
            Proof("volts:fuse_out-chassis:key_off", -0.5, 9.0, follows_system=True),
        ),
        after=(
            Proof("ohms:fuse_out-chassis:fuse_out", 50.0, OL),
            Proof("ohms:fuse_in-fuse_out:dead", 0.0, 1.0),
            _FEED_GOOD,
            _ADAPTER_UP,
        ),
        look_alikes=(
            LookAlike(
                "feed_short_to_ground",
                "ohms:fuse_out-chassis:fuse_out",
                "Fuse out, battery off: some ohms from its dead side to ground are a short.",
            ),
            LookAlike(
                "feed_open", "volts:fuse_out-chassis:key_off", "Battery volts behind the fuse: the wire after it."
            ),
        ),
        caution="Before a new fuse goes in, find why the old one blew. Same rating only.",
    ),
    Fault(
        id="feed_open",
        title="Feed wire to cavity B broken",
        subsystem="supply",
        odds=4.0,
        judgement="Less often than the fuse; broken strands at a splice or near the connector.",
        repair="mend_feed",
        causes=(_CHAFED, _WATER, Cause("a splice pulled apart")),
        proof=any_of(Proof("ohms:B.wire-fuse_out:dead", 15.0, OL))
        + together(
            Proof("volts:battery_positive-battery_negative:key_off", 11.0, 15.0, follows_system=True),
            Proof("volts:fuse_in-chassis:key_off", -0.5, 9.0, follows_system=True),
        ),
        after=(Proof("ohms:B.wire-fuse_out:dead", 0.0, 1.5), _FEED_GOOD, _LOADED_GOOD),
        look_alikes=(
            LookAlike("cavity_open:B", "volts:B.wire-A.wire:key_off", "Battery volts at the back of B: its terminal."),
            LookAlike("feed_fuse_open", "volts:fuse_out-chassis:key_off", "No volts behind the fuse: the fuse."),
        ),
    ),
    Fault(
        id="feed_resistance",
        title="High resistance in the feed",
        subsystem="supply",
        odds=4.0,
        judgement="Corroded splices are common; one strand still reads 12 V without load.",
        repair="mend_feed",
        causes=(_WATER, Cause("fuse loose in its socket"), Cause("strands broken inside the insulation")),
        proof=any_of(
            Proof("volts:battery_positive-B.wire:plugged", 0.3, 30.0),
            Proof("ohms:B-fuse_out:dead", 0.9, 600.0),
            Proof("ohms:B-B.wire:dead", 0.9, 600.0),
        ),
        after=(_FEED_DROP_GOOD, _LOADED_GOOD),
        look_alikes=(
            LookAlike(
                "battery_low",
                "volts:battery_positive-battery_negative:key_on",
                "Low on the posts as well: the battery.",
            ),
            LookAlike(
                "ground_resistance",
                "volts:A.wire-battery_negative:plugged",
                "The drop under load is on the ground's side.",
            ),
        ),
    ),
    Fault(
        id="feed_short_to_ground",
        title="Feed shorted to ground; it blows its fuse",
        subsystem="supply",
        odds=3.0,
        judgement="The classic reason of a blown fuse: chafed through at the frame or behind the dash.",
        repair="clear_feed_short",
        causes=(_CHAFED, Cause("a device at the connector or on the same fuse", None, "ohms:B-A:fuse_out")),
        proof=any_of(Proof("ohms:fuse_out-chassis:fuse_out", 0.0, 30.0), Proof("ohms:B-A:fuse_out", 0.0, 30.0)),
        after=(Proof("ohms:fuse_out-chassis:fuse_out", 50.0, OL), _FEED_GOOD, _ADAPTER_UP),
        look_alikes=(
            LookAlike(
                "feed_fuse_open", "ohms:fuse_out-chassis:fuse_out", "Open or high with the fuse out: no short now."
            ),
        ),
        caution="Do not feed the short to find it: no larger fuse, no bridge.",
    ),
    Fault(
        id="ground_open",
        title="Ground of cavity A broken",
        subsystem="supply",
        odds=3.0,
        judgement="Ground studs come loose and corrode; full loss is less often than resistance.",
        repair="mend_ground",
        causes=(_WATER, Cause("ground stud loose or painted under"), _CHAFED),
        proof=any_of(Proof("ohms:A.wire-chassis:dead", 15.0, OL)),
        after=(Proof("ohms:A.wire-chassis:dead", 0.0, 1.0), _FEED_GOOD, _GROUND_DROP_GOOD),
        look_alikes=(
            LookAlike("cavity_open:A", "ohms:A-A.wire:dead", "Open between front and back of A: its terminal."),
            LookAlike(
                "feed_open", "volts:B-chassis:key_off", "Battery volts from B to the chassis: the feed is whole."
            ),
        ),
    ),
    Fault(
        id="ground_resistance",
        title="High resistance in the ground of cavity A",
        subsystem="supply",
        odds=4.0,
        judgement="Corroded ground studs are among the causes most often named.",
        repair="mend_ground",
        causes=(_WATER, Cause("ground stud loose or painted under")),
        proof=any_of(
            Proof("volts:A.wire-battery_negative:plugged", 0.3, 30.0),
            Proof("ohms:A-chassis:dead", 0.9, 600.0),
            Proof("ohms:A-A.wire:dead", 0.9, 600.0),
        ),
        after=(_GROUND_DROP_GOOD, Proof("ohms:A-chassis:dead", 0.0, 1.0)),
        look_alikes=(
            LookAlike(
                "feed_resistance", "volts:battery_positive-B.wire:plugged", "The drop under load is on the feed's side."
            ),
            LookAlike(
                "battery_connection",
                "volts:chassis-battery_negative:key_on",
                "Some volts from chassis to post: a cable.",
            ),
        ),
    ),
    Fault(
        id="cavity_open:A",
        title="Terminal of cavity A backed out or spread",
        subsystem="supply",
        odds=2.0,
        judgement="Terminals suffer with every adapter plugged in, A and B under load most.",
        repair="reseat_terminal",
        causes=(_PROBED, Cause("lock left open"), _WATER),
        proof=any_of(Proof("ohms:A-A.wire:dead", 15.0, OL)),
        after=(Proof("ohms:A-A.wire:dead", 0.0, 1.0), _FEED_GOOD, _GROUND_DROP_GOOD),
        look_alikes=(
            LookAlike("ground_open", "ohms:A-A.wire:dead", "Closed between front and back of A: the wire or stud."),
        ),
        caution="Never push a meter lead into a female terminal: it spreads it.",
    ),
    Fault(
        id="cavity_open:B",
        title="Terminal of cavity B backed out or spread",
        subsystem="supply",
        odds=3.0,
        judgement="Terminals suffer with every adapter plugged in, A and B under load most.",
        repair="reseat_terminal",
        causes=(_PROBED, Cause("lock left open"), _WATER),
        proof=any_of(Proof("ohms:B-B.wire:dead", 15.0, OL)),
        after=(Proof("ohms:B-B.wire:dead", 0.0, 1.0), _FEED_GOOD, _LOADED_GOOD),
        look_alikes=(
            LookAlike("feed_open", "volts:B.wire-A.wire:key_off", "No volts at the back of B either: the wire."),
        ),
        caution="Never push a meter lead into a female terminal: it spreads it.",
    ),
)
