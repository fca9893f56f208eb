"""Faults of single modules and of their own stubs. At the connector they show little; unplugging them one by one does."""

from __future__ import annotations

import math

from linkcheck.faults.fault import Cause, Fault, LookAlike, Proof, any_of, together

__all__ = ["MODULE_FAULTS"]

OL = math.inf

_HEARS = Proof("listen:own", shows=("frames",))
_PAIR_GOOD = Proof("ohms:C-D:dead", 50.0, 70.0)
_WATER = Cause("water in the module's connector")

MODULE_FAULTS = (
    Fault(
        id="module_leakage",
        title="A module loads the pair",
        subsystem="module",
        odds=2.0,
        judgement="A dead module pulling the link down is among the causes most often named.",
        repair="replace_module",
        causes=(_WATER, Cause("its bus driver, after a shock or a jump start")),
        proof=together(Proof("ohms:C-D:dead", 0.0, 55.0), Proof("ohms:C-D:no_modules", 55.0, 70.0))
        + together(Proof("ohms:C-A:dead", 0.0, 1500.0), Proof("ohms:C-A:no_modules", 1e4, OL))
        + together(Proof("ohms:D-A:dead", 0.0, 1500.0), Proof("ohms:D-A:no_modules", 1e4, OL)),
        after=(_PAIR_GOOD, Proof("ohms:C-A:dead", 500.0, OL), Proof("ohms:D-A:dead", 500.0, OL), _HEARS),
        look_alikes=(
            LookAlike(
                "short:can_high-ground", "ohms:C-A:no_modules", "Still low with all modules unplugged: the harness."
            ),
            LookAlike(
                "short:can_low-ground", "ohms:D-A:no_modules", "Still low with all modules unplugged: the harness."
            ),
            LookAlike(
                "leakage:C-D", "ohms:C-D:bare", "Still a value with modules and terminators unplugged: the harness."
            ),
            LookAlike(
                "terminator_value",
                "ohms:terminator_1.a-terminator_1.b:no_terminator_1",
                "A terminator alone is off: it.",
            ),
        ),
    ),
    Fault(
        id="module_dominant",
        title="A module holds the pair dominant",
        subsystem="module",
        odds=1.0,
        judgement="Modern bus drivers let go by themselves; older ones and broken ones do not.",
        repair="replace_module",
        causes=(Cause("its bus driver"), Cause("its software hangs")),
        proof=together(Proof("volts:C-D:key_on", 1.0, 4.5), Proof("volts:D-A:key_on", 0.2, 2.3)),
        after=(Proof("volts:C-D:key_on", -0.1, 0.7), _HEARS),
        look_alikes=(
            LookAlike(
                "short:can_high-battery",
                "volts:D-A:key_on",
                "D well below 2.5 V: held by a module, not by the battery.",
            ),
        ),
    ),
    Fault(
        id="module_unpowered",
        title="One module has no supply or ground and is mute",
        subsystem="module",
        odds=1.0,
        judgement="The usual reason when one module only does not answer.",
        repair="feed_module",
        causes=(Cause("its fuse"), Cause("its ground"), Cause("its connector")),
        proof=any_of(Proof("heard:own", shows=("some",))),
        after=(_HEARS,),
        look_alikes=(
            LookAlike("none", None, "The list of addresses heard tells: one is missing. The pair itself reads good."),
            LookAlike("module_open:high", None, "Volts at the module's own connector tell supply from data line."),
        ),
    ),
    Fault(
        id="module_swapped",
        title="High and low changed over at one module",
        subsystem="module",
        odds=0.3,
        judgement="Only after work on that module's connector.",
        repair="change_over",
        causes=(Cause("terminals put back into the wrong cavities"),),
        proof=(),
        after=(_HEARS,),
        look_alikes=(
            LookAlike("module_bit_rate", None, "Unplug modules one at a time; at its connector high is below low."),
        ),
    ),
    Fault(
        id="module_bit_rate",
        title="One module talks at another bit rate",
        subsystem="module",
        odds=0.3,
        judgement="Only after a module was exchanged or an accessory was added.",
        repair="set_module_rate",
        causes=(Cause("a part meant for another truck"), Cause("an added device")),
        proof=(),
        after=(_HEARS,),
        look_alikes=(LookAlike("module_swapped", None, "Unplug modules one at a time until the errors stop."),),
    ),
    *(
        Fault(
            id=f"module_open:{line}",
            title=f"CAN {line} of one module's stub broken",
            subsystem="module",
            odds=0.15,
            judgement="As often as any single wire; the rest of the truck works.",
            repair="mend_module_stub",
            causes=(_WATER, Cause("terminal backed out at the module")),
            proof=(),
            after=(_HEARS,),
            look_alikes=(LookAlike("module_unpowered", None, "Ohms at the module's own connector tell an open line."),),
        )
        for line in ("high", "low")
    ),
)
