"""Faults of the technician's own adapter and of its setting. A known-good adapter on the same truck splits them all."""

from __future__ import annotations

from linkcheck.faults.fault import Cause, Fault, LookAlike, Proof, any_of, together

__all__ = ["ADAPTER_FAULTS"]

_HEARS = Proof("listen:own", shows=("frames",))
_GOOD_ONE_HEARS = Proof("listen:known_good", shows=("frames",))

ADAPTER_FAULTS = (
    Fault(
        id="bit_rate",
        title="Adapter set to another bit rate than the truck's",
        subsystem="adapter",
        odds=4.0,
        judgement="Common since trucks with 250 and with 500 kbit/s stand side by side.",
        repair="set_bit_rate",
        causes=(Cause("the setting of the last truck"), Cause("a connector exchanged for one of another colour")),
        proof=any_of(
            Proof("listen:own:other_rate", shows=("frames",)), Proof("listen:known_good:other_rate", shows=("frames",))
        ),
        after=(_HEARS,),
        look_alikes=(
            LookAlike("adapter_data", "listen:own:other_rate", "It hears frames at the other rate: the setting."),
        ),
        caution="Listen only: talking at the wrong rate disturbs the whole bus.",
    ),
    Fault(
        id="adapter_power",
        title="Adapter does not power up",
        subsystem="adapter",
        odds=3.0,
        judgement="Cables and fuses inside adapters fail from being dropped, and from wrong polarity.",
        repair="replace_adapter",
        causes=(
            Cause("its cable"),
            Cause("its own fuse"),
            Cause("it needs more volts than the truck has", "battery_low"),
        ),
        proof=together(
            Proof("listen:own", shows=("no_power",)),
            Proof("listen:known_good", shows=("silent", "errors", "frames")),
        ),
        after=(_HEARS,),
        look_alikes=(
            LookAlike(
                "feed_resistance",
                "volts:B.wire-A.wire:plugged",
                "Volts fall away when it is plugged in: the feed or the ground.",
            ),
            LookAlike("cavity_open:B", "listen:known_good", "A known-good adapter stays dark too: the connector."),
        ),
    ),
    Fault(
        id="adapter_data",
        title="Adapter powers up but its data lines are open or dead",
        subsystem="adapter",
        odds=4.0,
        judgement="Bent pins and worn cables on the adapter's side; its driver after a shock.",
        repair="replace_adapter_cable",
        causes=(
            Cause("a bent or pushed pin in its plug"),
            Cause("its cable"),
            Cause("its bus driver"),
            Cause("its software"),
        ),
        proof=together(Proof("listen:own", shows=("silent",)), _GOOD_ONE_HEARS),
        after=(_HEARS,),
        look_alikes=(
            LookAlike(
                "cavity_open:C", "listen:known_good", "A known-good adapter hears nothing either: the connector."
            ),
            LookAlike("bit_rate", "listen:own:other_rate", "It hears frames at the other rate: only the setting."),
        ),
    ),
    Fault(
        id="adapter_terminator",
        title="Adapter or its cable has a terminator inside",
        subsystem="adapter",
        odds=0.3,
        judgement="Bench cables with a terminator end up on trucks now and then; most buses run all the same.",
        repair="replace_adapter_cable",
        causes=(Cause("a cable made for the bench"),),
        proof=(),
        after=(_HEARS,),
        look_alikes=(LookAlike("none", None, "Ohms at the adapter's own plug, C to D: 120 ohm is a terminator."),),
    ),
)
