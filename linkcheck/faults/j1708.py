"""Faults of the J1708 pair on cavities F and G."""

from __future__ import annotations

import math

from linkcheck.faults.fault import Cause, Fault, LookAlike, Proof, any_of, together

__all__ = ["J1708_FAULTS"]

OL = math.inf

_PLUS_GOOD = Proof("volts:F-A:key_on", 2.3, 5.2)
_MINUS_GOOD = Proof("volts:G-A:key_on", -0.2, 2.6)
_PAIR_GOOD = Proof("ohms:F-G:dead", 100.0, OL)

_WATER = Cause("water and corrosion")
_CHAFED = Cause("harness chafed at frame, clips, firewall or cab tilt")
_BENT = Cause("a bent terminal in the connector")
_MODULE = Cause("a module on the pair")

_LINES = {"plus": "F", "minus": "G"}


def _short(line: str, other: str, odds: float, proof: Proof) -> Fault:
    title = "ground" if other == "ground" else "battery positive"
    return Fault(
        id=f"short:j1708_{line}-{other}",
        title=f"J1708 {line} shorted to {title}",
        subsystem="j1708",
        odds=odds,
        judgement="As any chafed wire; the pair runs through old harness.",
        repair="clear_j1708" if other == "ground" else "clear_supply_short",
        causes=(_CHAFED, _WATER, _MODULE),
        proof=any_of(proof),
        after=(_PLUS_GOOD, _MINUS_GOOD, _PAIR_GOOD),
        look_alikes=(LookAlike("j1708_short", "ohms:F-G:dead", "Low from F to G: the two lines touch each other."),),
    )


J1708_FAULTS = (
    *(
        Fault(
            id=f"cavity_open:{cavity}",
            title=f"Terminal of cavity {cavity} (J1708 {line}) backed out or spread",
            subsystem="j1708",
            odds=1.0,
            judgement="As the other terminals, but under no load and less often noticed.",
            repair="reseat_terminal",
            causes=(Cause("terminal spread by a meter lead"), Cause("lock left open"), _WATER),
            proof=any_of(Proof(f"ohms:{cavity}-{cavity}.wire:dead", 15.0, OL)),
            after=(Proof(f"ohms:{cavity}-{cavity}.wire:dead", 0.0, 1.0),),
            look_alikes=(
                LookAlike(f"j1708_open:{line}", f"ohms:{cavity}-{cavity}.wire:dead", "Closed: the wire behind it."),
            ),
            caution="Never push a meter lead into a female terminal: it spreads it.",
        )
        for line, cavity in _LINES.items()
    ),
    *(
        Fault(
            id=f"j1708_open:{line}",
            title=f"J1708 {line} wire broken",
            subsystem="j1708",
            odds=0.4,
            judgement="As any single wire.",
            repair="mend_j1708",
            causes=(_CHAFED, _WATER),
            proof=together(
                Proof(f"ohms:{cavity}-A:dead", 1e5, OL), Proof(f"ohms:{cavity}-{cavity}.wire:dead", 0.0, 1.0)
            ),
            after=(_PLUS_GOOD, _MINUS_GOOD),
            look_alikes=(
                LookAlike(f"cavity_open:{cavity}", f"ohms:{cavity}-{cavity}.wire:dead", "Open: the terminal."),
            ),
        )
        for line, cavity in _LINES.items()
    ),
    Fault(
        id="swapped:F-G",
        title="J1708 plus and minus changed over",
        subsystem="j1708",
        odds=1.0,
        judgement="After work on the connector, or a connector wired from a wrong table.",
        repair="change_over",
        causes=(Cause("terminals put back into the wrong cavities"),),
        proof=together(Proof("volts:F-A:key_on", -0.3, 1.8), Proof("volts:G-A:key_on", 2.0, 5.5)),
        after=(_PLUS_GOOD, _MINUS_GOOD),
        look_alikes=(
            LookAlike("short:j1708_plus-ground", "volts:G-A:key_on", "G well above 2 V: changed over, not shorted."),
        ),
    ),
    Fault(
        id="j1708_short",
        title="J1708 plus and minus touch each other",
        subsystem="j1708",
        odds=1.0,
        judgement="As any chafed pair.",
        repair="clear_j1708",
        causes=(_CHAFED, _BENT, _MODULE),
        proof=any_of(Proof("ohms:F-G:dead", 0.0, 40.0)),
        after=(_PLUS_GOOD, _MINUS_GOOD, _PAIR_GOOD),
        look_alikes=(
            LookAlike(
                "short:j1708_plus-ground", "ohms:F-A:dead", "Low from F to ground, high from F to G: a short to ground."
            ),
        ),
    ),
    _short("plus", "ground", 1.0, Proof("ohms:F-A:dead", 0.0, 40.0)),
    _short("minus", "ground", 0.4, Proof("ohms:G-A:dead", 0.0, 40.0)),
    _short("plus", "battery", 0.3, Proof("volts:F-A:key_on", 6.0, 32.0)),
    _short("minus", "battery", 0.3, Proof("volts:G-A:key_on", 6.0, 32.0)),
)
