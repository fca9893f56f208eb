"""Trouble codes: lamps and codes out of the payload of DM1, DM2 and their kin.

Bytes in, values out; nothing is raised, whatever comes is described. What a code says about the network is in
`network_codes`, names of parameters in `parameter_names`.

Layout: SAE J1939-73: two bytes of lamps, then four bytes a code (SPN 19 bits, FMI 5, conversion method 1, occurrence
count 7). Checked against open data (SystemsCyber/CyberTruckResources) and can-j1939; FMI meanings paraphrased from
ISO 11783-12 annex E as given in open-source stacks. Flash states: from memory of SAE J1939-73.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

__all__ = ["FMI_TEXTS", "Lamp", "Lamps", "Report", "TroubleCode", "decode_report", "fmi_text"]

LampState = Literal["off", "on", "reserved", "not available"]
FlashState = Literal["slow", "fast", "reserved", "steady"]

_STATES: tuple[LampState, ...] = ("off", "on", "reserved", "not available")
_FLASHES: tuple[FlashState, ...] = ("slow", "fast", "reserved", "steady")

_CODE = 4  # bytes a code takes
_NO_CODE = (b"\x00\x00\x00\x00", b"\xff\xff\xff\xff")  # stand where no code is; the first is usual
_NO_COUNT = 127

FMI_TEXTS: dict[int, str] = {
    0: "above normal, most severe",
    1: "below normal, most severe",
    2: "erratic, intermittent or incorrect",
    3: "voltage above normal, or shorted high",
    4: "voltage below normal, or shorted low",
    5: "current below normal, or open circuit",
    6: "current above normal, or shorted to ground",
    7: "mechanical system does not respond",
    8: "abnormal frequency, pulse width or period",
    9: "abnormal update rate",
    10: "abnormal rate of change",
    11: "root cause not known",
    12: "bad device or component",
    13: "out of calibration",
    14: "special instructions",
    15: "above normal, least severe",
    16: "above normal, moderately severe",
    17: "below normal, least severe",
    18: "below normal, moderately severe",
    19: "received network data in error",
    20: "drifted high",
    21: "drifted low",
    31: "condition exists",
}


@dataclass(frozen=True, slots=True)
class Lamp:
    """One warning lamp: what it is told to do, and how it is to flash if it is on."""

    state: LampState
    flash: FlashState


@dataclass(frozen=True, slots=True)
class Lamps:
    """The four lamps, most significant bits first. `malfunction` is the emission lamp (MIL)."""

    malfunction: Lamp
    red_stop: Lamp
    amber_warning: Lamp
    protect: Lamp


@dataclass(frozen=True, slots=True)
class TroubleCode:
    """One code.

    Attributes:
        spn: suspect parameter, 19 bits. fmi: failure mode, 0-31. count: occurrences 0-126, None when not told.
        conversion_method: 0, the layout of today; 1, an older sender, which packs the SPN in one of three ways.
        other_spns: what `spn` may be instead, by the other layouts; empty for method 0.

    """

    spn: int
    fmi: int
    count: int | None
    conversion_method: int = 0
    other_spns: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class Report:
    """A DM1, DM2 or like message.

    Attributes:
        lamps: the four lamps. codes: in the order sent; empty when there is none.
        remarks: sentences about bytes that do not fit the layout.

    """

    lamps: Lamps
    codes: tuple[TroubleCode, ...]
    remarks: tuple[str, ...] = ()


def fmi_text(fmi: int) -> str:
    """Failure mode in plain words; "reserved failure mode 25" where the standard has none."""
    return FMI_TEXTS.get(fmi, f"reserved failure mode {fmi}")


def decode_report(payload: bytes) -> Report:
    """Read lamps and codes: any number of bytes, as sent in one frame or put together from a transfer.

    Two bytes left over, both FF, are the padding of a frame; any other rest is remarked on.
    """
    remarks = []
    if len(payload) < 2 + _CODE:
        remarks.append(f"only {len(payload)} bytes, too few for lamps and one code")
    lamps = _lamps(payload[:2].ljust(2, b"\xff"))
    whole = max(len(payload) - 2, 0) // _CODE * _CODE + 2
    groups = [payload[at : at + _CODE] for at in range(2, whole, _CODE)]
    codes = tuple(_code(group) for group in groups if group not in _NO_CODE)
    tail = payload[whole:]
    if tail.strip(b"\xff"):
        remarks.append(f"{len(tail)} bytes after the last code: {tail.hex(' ').upper()}")
    if any(code.conversion_method for code in codes):
        remarks.append("older layout of the SPN (conversion method 1): the number may be another")
    return Report(lamps, codes, tuple(remarks))


def _lamps(data: bytes) -> Lamps:
    states = [_STATES[data[0] >> shift & 3] for shift in (6, 4, 2, 0)]
    flashes = [_FLASHES[data[1] >> shift & 3] for shift in (6, 4, 2, 0)]
    return Lamps(*(Lamp(state, flash) for state, flash in zip(states, flashes, strict=True)))


def _code(group: bytes) -> TroubleCode:
    low, middle, high, last = group
    spn = low | middle << 8 | high >> 5 << 16
    fmi, count, method = high & 0x1F, last & 0x7F, last >> 7
    # Versions 1 and 2 of SAE J1939-73 put the three lowest bits of the SPN beside the FMI (from memory).
    others = (low << 11 | middle << 3 | high >> 5, middle << 11 | low << 3 | high >> 5) if method else ()
    return TroubleCode(spn, fmi, None if count == _NO_COUNT else count, method, others)
