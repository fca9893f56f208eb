"""What each fault does to a truck's circuit: one row a fault.

Ranges of severity are judgement: common practice, no source, wide on purpose. Whoever knows better gives `turn` a
severity of their own.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

from linkcheck.circuit.distributions import Sampler, constant, log, mixture, uniform
from linkcheck.circuit.knobs import Bridge, Change, Knob, Way
from linkcheck.circuit.parameter import OPEN
from linkcheck.circuit.probes import CAVITIES
from linkcheck.circuit.states import ADAPTERS

__all__ = ["KNOBS"]

RATES_TOGETHER = 750_000.0  # 250 and 500 kbit/s: one less this is the other

_HARD = log(0.05, 30.0)  # a chafed wire on metal, a bent terminal
_WET = log(200.0, 2e4)  # water and corrosion
_DAMP = log(200.0, 4e3)  # to ground: less is hardly felt, as modules without supply load the pair alike
_BAD = log(1.0, 500.0)  # a supply joint that a load shows
_CORRODED = log(5.0, 2e3)  # a data joint
_BROKEN = mixture((0.9, constant(OPEN)), (0.1, log(3e3, 1e6)))  # hanging on, now and then


def _ways(*ways: Change | Bridge | Sequence[Change | Bridge]) -> tuple[Way, ...]:
    return tuple((way,) if isinstance(way, Change | Bridge) else tuple(way) for way in ways)


def _break(fault: str, *parameters: str) -> Knob:
    """Any of these wires or joints broken."""
    return Knob(fault, _ways(*(Change(name) for name in parameters)), _BROKEN, "ohm")


def _resist(fault: str, severity: Sampler, *parameters: str | Change) -> Knob:
    """Any of these wires or joints with a resistance added."""
    added = (Change(name, "add") if isinstance(name, str) else name for name in parameters)
    return Knob(fault, _ways(*added), severity, "ohm")


def _flag(fault: str, parameter: str, place: int | Literal["all", "chosen"] = "all") -> Knob:
    return Knob(fault, _ways(Change(parameter, value=1.0, place=place)))


def _short(fault: str, ends: Sequence[str], others: Sequence[str], severity: Sampler = _HARD) -> Knob:
    return Knob(fault, _ways(*(Bridge(a, b) for a in ends for b in others)), severity, "ohm")


def _along(line: str, cavity: str) -> tuple[str, ...]:
    """Places where a CAN line can touch something: behind the connector, at the stub, at either end."""
    return f"{cavity}.wire", f"stub.{line}", f"backbone_1.{line}", f"backbone_3.{line}"


def _terminal(cavity: str) -> Change:
    return Change("contact_ohms", "add", place=CAVITIES.index(cavity))


_HIGH, _LOW = _along("high", "C"), _along("low", "D")
_PLUS, _MINUS = ("F.wire", "j1708.plus"), ("G.wire", "j1708.minus")
_SUPPLIES = ("distribution", "B.wire")
_FEED = ("fuse_out", "feed_splice", "B.wire")
_FLAT = Change("battery_emf_volts", "scale")
_BACKBONE_HIGH = Change("backbone_high_ohms", place="chosen")
_BACKBONE_LOW = Change("backbone_low_ohms", place="chosen")
_OWN = ADAPTERS.index("own")

_TABLE = (
    Knob("none", ((),)),
    Knob(
        "battery_low",
        _ways(_FLAT, (_FLAT, Change("battery_internal_ohms", "scale", 20.0))),
        uniform(0.45, 0.93),
        "of its volts",
    ),
    _resist("battery_connection", log(0.05, 20.0), "negative_cable_ohms", "positive_cable_ohms"),
    _flag("key_supply_dead", "key_supply_dead"),
    _break("feed_fuse_open", "fuse_ohms"),
    _break("feed_open", "feed_wire_ohms", "feed_splice_ohms", "supply_wire_ohms"),
    _resist("feed_resistance", _BAD, "feed_wire_ohms", "feed_splice_ohms", "fuse_contact_ohms", _terminal("B")),
    Knob(
        "feed_short_to_ground",
        _ways(*((Change("fuse_ohms", value=OPEN), Bridge(node, "chassis")) for node in _FEED)),
        log(0.02, 20.0),
        "ohm",
    ),
    _break("ground_open", "ground_wire_ohms", "ground_stud_ohms"),
    _resist("ground_resistance", _BAD, "ground_wire_ohms", "ground_stud_ohms", _terminal("A")),
    *(Knob(f"cavity_open:{c}", _ways(Change("contact_ohms", place=k)), _BROKEN, "ohm") for k, c in enumerate(CAVITIES)),
    _break("stub_open:high", "stub_high_ohms", "stub_splice_high_ohms"),
    _break("stub_open:low", "stub_low_ohms", "stub_splice_low_ohms"),
    _resist("stub_resistance:high", _CORRODED, "stub_high_ohms", "stub_splice_high_ohms"),
    _resist("stub_resistance:low", _CORRODED, "stub_low_ohms", "stub_splice_low_ohms"),
    Knob("backbone_open:high", _ways(_BACKBONE_HIGH), _BROKEN, "ohm"),
    Knob("backbone_open:low", _ways(_BACKBONE_LOW), _BROKEN, "ohm"),
    Knob("backbone_open:both", _ways((_BACKBONE_HIGH, _BACKBONE_LOW)), _BROKEN, "ohm"),
    _resist("backbone_resistance:high", _CORRODED, Change("backbone_high_ohms", "add", place="chosen")),
    _resist("backbone_resistance:low", _CORRODED, Change("backbone_low_ohms", "add", place="chosen")),
    Knob(
        "terminator_missing",
        _ways(
            Change("terminator_ohms", place="chosen"),
            Change("terminator_high_contact_ohms", place="chosen"),
            Change("terminator_low_contact_ohms", place="chosen"),
        ),
        constant(OPEN),
        "ohm",
    ),
    Knob("terminators_missing", _ways(Change("terminator_ohms")), constant(OPEN), "ohm"),
    Knob("terminator_extra", _ways(Change("extra_terminator_ohms", place="chosen")), uniform(114.0, 126.0), "ohm"),
    Knob("terminators_extra", _ways(Change("extra_terminator_ohms", place="chosen")), uniform(57.0, 63.0), "ohm"),
    Knob(
        "terminator_value",
        _ways(Change("terminator_ohms", place="chosen")),
        mixture((0.5, log(5.0, 90.0)), (0.5, log(160.0, 5e3))),
        "ohm",
    ),
    _short("short:can_high-ground", _HIGH, ("chassis",)),
    _short("short:can_low-ground", _LOW, ("chassis",)),
    _short("short:can_high-battery", _HIGH, _SUPPLIES),
    _short("short:can_low-battery", _LOW, _SUPPLIES),
    Knob("short:can_high-can_low", _ways(*map(Bridge, _HIGH, _LOW)), _HARD, "ohm"),
    _short("short:can_high-shield", _HIGH, ("shield",)),
    _short("short:can_low-shield", _LOW, ("shield",)),
    _flag("swapped:C-D", "swapped_cd"),
    _flag("swapped:F-G", "swapped_fg"),
    Knob(
        "module_leakage",
        _ways(
            Change("module_leak_high_ohms", place="chosen"),
            Change("module_leak_low_ohms", place="chosen"),
            Change("module_leak_across_ohms", place="chosen"),
        ),
        log(5.0, 1.5e3),
        "ohm",
    ),
    Knob(
        "module_dominant",
        _ways((Change("module_stuck", value=1.0, place="chosen"), Change("module_standby", value=0.0))),
    ),
    _flag("module_unpowered", "module_unpowered", "chosen"),
    _flag("module_swapped", "module_swapped", "chosen"),
    _flag("module_bit_rate", "module_wrong_rate", "chosen"),
    Knob("module_open:high", _ways(Change("module_stub_high_ohms", place="chosen")), _BROKEN, "ohm"),
    Knob("module_open:low", _ways(Change("module_stub_low_ohms", place="chosen")), _BROKEN, "ohm"),
    _short("leakage:A-C", ("A.wire",), ("C.wire",), _DAMP),
    _short("leakage:A-D", ("A.wire",), ("D.wire",), _DAMP),
    _short("leakage:B-C", ("B.wire",), ("C.wire",), _WET),
    _short("leakage:B-D", ("B.wire",), ("D.wire",), _WET),
    _short("leakage:C-D", ("C.wire",), ("D.wire",), log(20.0, 2e3)),
    _short("leakage:B-F", ("B.wire",), ("F.wire",), _WET),
    Knob("bit_rate", _ways(Change("bit_rate", "mirror", RATES_TOGETHER))),
    _flag("adapter_power", "adapter_dead", _OWN),
    _flag("adapter_data", "adapter_deaf", _OWN),
    Knob("adapter_terminator", _ways(Change("adapter_terminator_ohms", place=_OWN)), uniform(114.0, 126.0), "ohm"),
    Knob("j1708_short", _ways(*map(Bridge, _PLUS, _MINUS)), _HARD, "ohm"),
    _short("short:j1708_plus-ground", _PLUS, ("chassis",)),
    _short("short:j1708_minus-ground", _MINUS, ("chassis",)),
    _short("short:j1708_plus-battery", _PLUS, _SUPPLIES),
    _short("short:j1708_minus-battery", _MINUS, _SUPPLIES),
    _break("j1708_open:plus", "j1708_plus_wire_ohms"),
    _break("j1708_open:minus", "j1708_minus_wire_ohms"),
)

KNOBS: dict[str, Knob] = {knob.fault: knob for knob in _TABLE}
