"""Faults of the CAN pair: terminals, stub, backbone, terminators, shorts, leakage."""

from __future__ import annotations

import math

from linkcheck.faults.fault import Cause, Fault, LookAlike, Proof, Proofs, any_of, together

__all__ = ["CAN_FAULTS"]

OL = math.inf

_HEARS = Proof("listen:own", shows=("frames",))
_PAIR_GOOD = Proof("ohms:C-D:dead", 50.0, 70.0)
_HIGH_GOOD = Proof("volts:C-A:key_on", 2.3, 3.2)
_LOW_GOOD = Proof("volts:D-A:key_on", 1.7, 2.7)
_VOLTS_GOOD = (_HIGH_GOOD, _LOW_GOOD)

_WATER = Cause("water and corrosion")
_CHAFED = Cause("harness chafed at frame, clips, firewall or cab tilt")
_PROBED = Cause("terminal spread by a meter lead or many matings")
_BENT = Cause("a bent terminal in a connector")
_ADDED = Cause("a device added or work done lately")
_SPLICE = Cause("a corroded splice")

_LINES = {"high": "C", "low": "D"}
_OTHER = {"high": "low", "low": "high"}


def _terminal(line: str, cavity: str) -> Fault:
    return Fault(
        id=f"cavity_open:{cavity}",
        title=f"Terminal of cavity {cavity} (CAN {line}) backed out or spread",
        subsystem="can",
        odds=3.0,
        judgement="Pushed and spread terminals are among the causes most often named.",
        repair="reseat_terminal",
        causes=(_PROBED, Cause("lock left open"), _WATER),
        proof=any_of(Proof(f"ohms:{cavity}-{cavity}.wire:dead", 15.0, OL)),
        after=(Proof(f"ohms:{cavity}-{cavity}.wire:dead", 0.0, 1.0), _PAIR_GOOD, _HEARS),
        look_alikes=(
            LookAlike(
                f"stub_open:{line}",
                f"ohms:{cavity}-{cavity}.wire:dead",
                f"Closed between front and back of {cavity}: the stub.",
            ),
            LookAlike(
                "terminators_missing", "ohms:C.wire-D.wire:dead", "About 60 ohm on the wire side: only the terminal."
            ),
        ),
        caution="Never push a meter lead into a female terminal: it spreads it.",
    )


def _stub(line: str, cavity: str) -> tuple[Fault, Fault]:
    ends = tuple(f"ohms:{cavity}-terminator_{k}.{line}:dead" for k in (1, 2))
    closed = Proof(f"ohms:{cavity}-{cavity}.wire:dead", 0.0, 1.0)
    return (
        Fault(
            id=f"stub_open:{line}",
            title=f"CAN {line} of the connector's stub broken",
            subsystem="can",
            odds=1.5,
            judgement="As any wire between connector and backbone; splices break before wire does.",
            repair="mend_stub",
            causes=(_SPLICE, _CHAFED),
            proof=any_of(*(Proof(end, 15.0, OL) for end in ends)),
            after=(*(Proof(end, 0.0, 5.0) for end in ends), _PAIR_GOOD, _HEARS),
            look_alikes=(
                LookAlike(f"cavity_open:{cavity}", closed.check, "Open between front and back: the terminal."),
                LookAlike(f"backbone_open:{line}", ends[1], "Open to one end of the backbone only: the backbone."),
            ),
        ),
        Fault(
            id=f"stub_resistance:{line}",
            title=f"High resistance in CAN {line} of the connector's stub",
            subsystem="can",
            odds=0.5,
            judgement="Corroded splices are common, but seldom bad enough for the adapter to mind.",
            repair="mend_stub",
            causes=(_SPLICE, _WATER),
            proof=any_of(*(Proof(end, 4.0, 3e3) for end in ends)),
            after=(*(Proof(end, 0.0, 4.0) for end in ends), _PAIR_GOOD),
            look_alikes=(
                LookAlike(f"backbone_resistance:{line}", ends[1], "Good to one end of the backbone: the backbone."),
            ),
        ),
    )


def _backbone(line: str) -> tuple[Fault, Fault]:
    through = f"ohms:terminator_1.{line}-terminator_2.{line}:dead"
    return (
        Fault(
            id=f"backbone_open:{line}",
            title=f"CAN {line} of the backbone broken",
            subsystem="can",
            odds=1.5,
            judgement="As any wire; connectors along the frame see salt.",
            repair="mend_backbone",
            causes=(_WATER, _CHAFED, _SPLICE),
            proof=any_of(Proof(through, 60.0, OL)),
            after=(Proof(through, 0.0, 5.0), _PAIR_GOOD, _HEARS),
            look_alikes=(
                LookAlike(
                    "terminator_missing",
                    through,
                    "A few ohms from end to end: the backbone is whole, the terminator is not.",
                ),
                LookAlike(
                    "backbone_open:both",
                    f"ohms:terminator_1.{_OTHER[line]}-terminator_2.{_OTHER[line]}:dead",
                    "Open as well: both wires.",
                ),
                LookAlike(f"backbone_open:{_OTHER[line]}", through, "A few ohms from end to end: the other wire."),
            ),
        ),
        Fault(
            id=f"backbone_resistance:{line}",
            title=f"High resistance in CAN {line} of the backbone",
            subsystem="can",
            odds=0.5,
            judgement="Corroded joints along the frame; often comes and goes.",
            repair="mend_backbone",
            causes=(_WATER, _SPLICE),
            proof=any_of(Proof(through, 4.0, 2e3)),
            after=(Proof(through, 0.0, 4.0), _PAIR_GOOD),
            look_alikes=(
                LookAlike(
                    "terminator_value",
                    "ohms:terminator_2.a-terminator_2.b:no_terminator_2",
                    "Alone a terminator is off: it.",
                ),
            ),
        ),
    )


def _to_ground(line: str, cavity: str) -> Fault:
    other = _OTHER[line]
    return Fault(
        id=f"short:can_{line}-ground",
        title=f"CAN {line} shorted to ground",
        subsystem="can",
        odds=2.5,
        judgement="Harness chafed at the frame is among the causes most often named.",
        repair="clear_short",
        causes=(_CHAFED, _BENT, _WATER),
        # Some ten ohms and more may be inside a module as well: then with all of them unplugged.
        proof=any_of(
            Proof(f"ohms:{cavity}-A:dead", 0.0, 10.0),
            Proof(f"ohms:{cavity}-chassis:dead", 0.0, 10.0),
            Proof(f"ohms:{cavity}-A:no_modules", 0.0, 45.0),
        ),
        after=(Proof(f"ohms:{cavity}-A:dead", 500.0, OL), *_VOLTS_GOOD, _HEARS),
        look_alikes=(
            LookAlike(
                f"short:can_{line}-shield",
                f"ohms:{cavity}-chassis:drain_lifted",
                "Gone with the drain lifted: it touches the shield.",
            ),
            LookAlike(
                "module_leakage", f"ohms:{cavity}-A:no_modules", "Gone with all modules unplugged: inside a module."
            ),
            LookAlike(
                f"short:can_{other}-ground",
                f"ohms:{'D' if cavity == 'C' else 'C'}-A:dead",
                "Some 60 ohm lower on the other line: that one.",
            ),
        ),
    )


def _to_battery(line: str, cavity: str) -> Fault:
    return Fault(
        id=f"short:can_{line}-battery",
        title=f"CAN {line} shorted to battery positive",
        subsystem="can",
        odds=1.0,
        judgement="Rarer than to ground: less metal carries battery volts.",
        repair="clear_supply_short",
        causes=(_CHAFED, _BENT, _ADDED),
        proof=any_of(Proof(f"volts:{cavity}-A:key_on", 6.0, 32.0), Proof(f"volts:{cavity}-A:key_off", 6.0, 32.0)),
        after=(*_VOLTS_GOOD, _PAIR_GOOD, _HEARS),
        look_alikes=(
            LookAlike(
                "leakage:B-C", f"ohms:{cavity}-B:dead", "Hundreds of ohms or more: water in the connector, not a wire."
            ),
            LookAlike(
                f"short:can_{_OTHER[line]}-battery", "volts:C-D:key_on", "The line that stands higher is the one."
            ),
        ),
        caution="Battery volts are on the pair: test every module on it after the repair.",
    )


def _to_shield(line: str, cavity: str) -> Fault:
    return Fault(
        id=f"short:can_{line}-shield",
        title=f"CAN {line} touches the shield",
        subsystem="can",
        odds=1.0,
        judgement="Where a shield was cut back badly at a connector or a splice.",
        repair="clear_short",
        causes=(Cause("shield cut back badly at a splice"), _CHAFED),
        proof=together(
            Proof(f"ohms:{cavity}-E:dead", 0.0, 45.0), Proof(f"ohms:{cavity}-chassis:drain_lifted", 500.0, OL)
        ),
        after=(Proof(f"ohms:{cavity}-E:dead", 500.0, OL), *_VOLTS_GOOD, _HEARS),
        look_alikes=(
            LookAlike(
                f"short:can_{line}-ground",
                f"ohms:{cavity}-chassis:drain_lifted",
                "Still low with the drain lifted: to ground.",
            ),
        ),
    )


def _leak(first: str, cavity: str, odds: float, proof: Proofs, splits: LookAlike) -> Fault:
    return Fault(
        id=f"leakage:{first}-{cavity}",
        title=f"Water or corrosion between cavities {first} and {cavity}",
        subsystem="can",
        odds=odds,
        judgement="Corrosion and moisture lead every list of causes; the connector sits where doors let rain in.",
        repair="dry_connector",
        causes=(Cause("connector left without its cap"), Cause("a leaking door or windscreen seal")),
        proof=proof,
        after=(Proof(f"ohms:{cavity}-A:dead", 500.0, OL), *_VOLTS_GOOD, _HEARS),
        look_alikes=(splits,),
    )


CAN_FAULTS = (
    *(_terminal(line, cavity) for line, cavity in _LINES.items()),
    *(fault for line, cavity in _LINES.items() for fault in _stub(line, cavity)),
    *(fault for line in _LINES for fault in _backbone(line)),
    Fault(
        id="backbone_open:both",
        title="Both wires of the backbone broken or a backbone connector apart",
        subsystem="can",
        odds=2.0,
        judgement="A connector left apart, or pulled apart by the cab tilt, opens both.",
        repair="mend_backbone",
        causes=(Cause("a backbone connector apart"), _WATER, _ADDED),
        proof=any_of(
            Proof("ohms:terminator_1.high-terminator_2.high:dead", 60.0, OL),
            Proof("ohms:terminator_1.low-terminator_2.low:dead", 60.0, OL),
        ),
        after=(Proof("ohms:terminator_1.high-terminator_2.high:dead", 0.0, 5.0), _PAIR_GOOD, _HEARS),
        look_alikes=(
            LookAlike(
                "terminator_missing",
                "ohms:terminator_1.high-terminator_2.high:dead",
                "A few ohms from end to end: the terminator.",
            ),
        ),
    ),
    Fault(
        id="terminator_missing",
        title="One terminator missing or not connected",
        subsystem="can",
        odds=5.0,
        judgement="Left out after work; among the causes most often named.",
        repair="fit_terminator",
        causes=(_ADDED, _WATER, Cause("terminator pulled off")),
        proof=any_of(
            Proof("ohms:terminator_1.a-terminator_1.b:no_terminator_1", 1e3, OL),
            Proof("ohms:terminator_2.a-terminator_2.b:no_terminator_2", 1e3, OL),
        )
        + together(
            Proof("ohms:C-D:dead", 105.0, 135.0),
            Proof("ohms:terminator_1.high-terminator_2.high:dead", 0.0, 5.0),
            Proof("ohms:terminator_1.low-terminator_2.low:dead", 0.0, 5.0),
        ),
        after=(_PAIR_GOOD,),
        look_alikes=(
            LookAlike(
                "backbone_open:both",
                "ohms:terminator_1.high-terminator_2.high:dead",
                "Open from end to end: the backbone.",
            ),
            LookAlike(
                "backbone_open:high",
                "ohms:terminator_1.high-terminator_2.high:dead",
                "Not a few ohms from end to end: that wire.",
            ),
            LookAlike(
                "backbone_open:low",
                "ohms:terminator_1.low-terminator_2.low:dead",
                "Not a few ohms from end to end: that wire.",
            ),
        ),
    ),
    Fault(
        id="terminators_missing",
        title="Both terminators missing",
        subsystem="can",
        odds=1.5,
        judgement="Less often than one.",
        repair="fit_terminators",
        causes=(_ADDED,),
        proof=any_of(
            Proof("ohms:C.wire-D.wire:dead", 300.0, OL),
            Proof("ohms:terminator_1.high-terminator_1.low:no_terminator_1", 300.0, OL),
        ),
        after=(_PAIR_GOOD, _HEARS),
        look_alikes=(
            LookAlike("cavity_open:C", "ohms:C-C.wire:dead", "Open between front and back of C: its terminal."),
            LookAlike(
                "stub_open:high", "ohms:C-terminator_1.high:dead", "Open from C to the backbone's end: the stub."
            ),
        ),
    ),
    Fault(
        id="terminator_extra",
        title="One terminator too many",
        subsystem="can",
        odds=3.0,
        judgement="An added device with a terminator of its own; seen after work.",
        repair="remove_terminator",
        causes=(_ADDED,),
        proof=any_of(Proof("ohms:C-D:dead", 36.0, 45.0)),
        after=(_PAIR_GOOD,),
        look_alikes=(
            LookAlike(
                "terminator_value",
                "ohms:terminator_1.a-terminator_1.b:no_terminator_1",
                "A terminator alone is off: it.",
            ),
            LookAlike(
                "leakage:C-D",
                "ohms:C-D:no_modules",
                "Unplug added devices: what jumps back near 60 ohm was a terminator.",
            ),
        ),
    ),
    Fault(
        id="terminators_extra",
        title="Two terminators too many",
        subsystem="can",
        odds=1.0,
        judgement="Less often than one too many; a single one of 60 ohm reads alike.",
        repair="remove_terminator",
        causes=(_ADDED,),
        proof=any_of(Proof("ohms:C-D:dead", 26.0, 34.0)),
        after=(_PAIR_GOOD,),
        look_alikes=(
            LookAlike(
                "terminator_value",
                "ohms:terminator_1.a-terminator_1.b:no_terminator_1",
                "A terminator alone is off: it.",
            ),
        ),
    ),
    Fault(
        id="terminator_value",
        title="A terminator has the wrong value",
        subsystem="can",
        odds=1.5,
        judgement="A wrong part, or one that was overheated by battery volts.",
        repair="replace_terminator",
        causes=(Cause("wrong part"), Cause("battery volts on the pair some time ago")),
        # One is off by itself, and the other, which the connector sees then, is good: two may be wrong.
        proof=tuple(
            (Proof(f"ohms:terminator_{k}.a-terminator_{k}.b:no_terminator_{k}", *off), other)
            for k in (1, 2)
            for off in ((0.0, 100.0), (140.0, 1e4))
            for other in (
                Proof(f"ohms:C-D:no_terminator_{k}", 100.0, 135.0),
                Proof(f"ohms:terminator_{3 - k}.a-terminator_{3 - k}.b:no_terminator_{3 - k}", 105.0, 135.0),
            )
        ),
        after=(_PAIR_GOOD,),
        look_alikes=(
            LookAlike("leakage:C-D", "ohms:C-D:bare", "A value with terminators and modules unplugged: the harness."),
            LookAlike("module_leakage", "ohms:C-D:no_modules", "Jumps back with the modules unplugged: a module."),
        ),
    ),
    *(_to_ground(line, cavity) for line, cavity in _LINES.items()),
    *(_to_battery(line, cavity) for line, cavity in _LINES.items()),
    Fault(
        id="short:can_high-can_low",
        title="CAN high and low touch each other",
        subsystem="can",
        odds=2.5,
        judgement="A bent terminal or a chafed pair; wholly stops the link.",
        repair="clear_short",
        causes=(_BENT, _CHAFED, Cause("a module's bus driver", "module_leakage")),
        proof=any_of(Proof("ohms:C-D:dead", 0.0, 25.0)),
        after=(_PAIR_GOOD, *_VOLTS_GOOD, _HEARS),
        look_alikes=(
            LookAlike("module_leakage", "ohms:C-D:no_modules", "Jumps back with the modules unplugged: a module."),
            LookAlike(
                "terminator_value", "ohms:C-D:bare", "Gone with terminators and modules unplugged: a terminator."
            ),
        ),
    ),
    *(_to_shield(line, cavity) for line, cavity in _LINES.items()),
    Fault(
        id="swapped:C-D",
        title="CAN high and low changed over at the connector",
        subsystem="can",
        odds=1.0,
        judgement="After work on the connector, or a connector wired from a wrong table.",
        repair="change_over",
        causes=(Cause("terminals put back into the wrong cavities"), Cause("a wrong table of pins")),
        proof=together(Proof("ohms:C-terminator_1.high:dead", 30.0, OL), Proof("ohms:C-D:dead", 45.0, 75.0)),
        after=(Proof("ohms:C-terminator_1.high:dead", 0.0, 5.0), *_VOLTS_GOOD, _HEARS),
        look_alikes=(
            LookAlike("stub_open:high", "ohms:C-D:dead", "About 60 ohm: nothing is open, the wires are changed over."),
        ),
    ),
    _leak(
        "B",
        "C",
        1.5,
        together(Proof("volts:C-A:key_off", 1.0, 32.0), Proof("ohms:C-B:dead", 100.0, 3e4)),
        LookAlike("short:can_high-battery", "ohms:C-B:dead", "A few ohms: a wire touches. Hundreds or more: water."),
    ),
    _leak(
        "B",
        "D",
        0.5,
        together(Proof("volts:D-A:key_off", 1.0, 32.0), Proof("ohms:D-B:dead", 100.0, 3e4)),
        LookAlike("short:can_low-battery", "ohms:D-B:dead", "A few ohms: a wire touches. Hundreds or more: water."),
    ),
    _leak(
        "A",
        "C",
        0.4,
        any_of(Proof("ohms:C-A:bare", 100.0, 3e4)),
        LookAlike("short:can_high-ground", "ohms:C-A:dead", "A few ohms: a wire touches. Hundreds or more: water."),
    ),
    _leak(
        "A",
        "D",
        0.4,
        any_of(Proof("ohms:D-A:bare", 100.0, 3e4)),
        LookAlike("short:can_low-ground", "ohms:D-A:dead", "A few ohms: a wire touches. Hundreds or more: water."),
    ),
    _leak(
        "C",
        "D",
        1.5,
        any_of(Proof("ohms:C-D:bare", 10.0, 1e4)),
        LookAlike("module_leakage", "ohms:C-D:no_modules", "Jumps back with the modules unplugged: a module."),
    ),
)
