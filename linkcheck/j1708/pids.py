"""Names of parameters (PIDs), and the few that are turned into figures with units.

Names and resolutions are paraphrased from SAE J1587 as published in the open decoder grimm-co/stm32-j1708
(j1708/pid_name.py and pid_info.py), metric; only what a technician meets. Numbers are little-endian; all ones mean
that there is no value.
"""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["PID_NAMES", "SCALES", "Scale", "pid_name", "pid_value"]

PID_NAMES: dict[int, str] = {
    0: "request",
    40: "engine retarder switches",
    41: "cruise control switches",
    43: "ignition switch",
    44: "warning lamps",
    47: "retarder status",
    49: "brake control (ABS) status",
    51: "throttle position",
    65: "service brake switch",
    70: "parking brake switch",
    71: "idle shutdown timer",
    83: "road speed limit status",
    84: "road speed",
    85: "cruise control status",
    86: "cruise control set speed",
    89: "power takeoff status",
    91: "accelerator pedal position",
    92: "engine load",
    94: "fuel delivery pressure",
    96: "fuel level",
    97: "water in fuel",
    98: "engine oil level",
    100: "engine oil pressure",
    101: "crankcase pressure",
    102: "boost pressure",
    105: "intake manifold temperature",
    106: "air inlet pressure",
    108: "barometric pressure",
    109: "coolant pressure",
    110: "engine coolant temperature",
    111: "coolant level",
    117: "brake primary pressure",
    118: "brake secondary pressure",
    121: "engine retarder status",
    124: "transmission oil level",
    128: "component-specific request",
    151: "traction control status",
    152: "number of module resets",
    158: "battery potential, switched",
    160: "main shaft speed",
    161: "input shaft speed",
    162: "range selected",
    163: "range attained",
    164: "injection control pressure",
    167: "alternator potential",
    168: "battery potential",
    171: "ambient air temperature",
    172: "air inlet temperature",
    173: "exhaust gas temperature",
    174: "fuel temperature",
    175: "engine oil temperature",
    177: "transmission oil temperature",
    182: "trip fuel",
    183: "fuel rate",
    184: "instantaneous fuel economy",
    185: "average fuel economy",
    187: "power takeoff set speed",
    188: "idle engine speed",
    189: "rated engine speed",
    190: "engine speed",
    191: "transmission output speed",
    192: "part of a long parameter",
    193: "diagnostic table",
    194: "fault list",
    195: "request about faults",
    196: "answer about faults",
    197: "connection management",
    198: "connection data",
    209: "brake control status, trailer",
    211: "tire pressure",
    214: "wheel speeds",
    234: "software identification",
    235: "total idle hours",
    237: "vehicle identification number",
    243: "component identification",
    244: "trip distance",
    245: "total distance",
    247: "total engine hours",
    250: "total fuel used",
    251: "clock",
    252: "date",
    254: "data link escape",
    448: "part of a long parameter, page 2",
    510: "data link escape, page 2",
}


@dataclass(frozen=True, slots=True)
class Scale:
    """How a PID's bytes become a figure: count of bytes, sign, factor, unit. Degrees Fahrenheit become Celsius."""

    length: int
    factor: float
    unit: str
    signed: bool = False
    fahrenheit: bool = False


SCALES: dict[int, Scale] = {
    84: Scale(1, 0.805, "km/h"),
    91: Scale(1, 0.4, "%"),
    92: Scale(1, 0.5, "%"),
    96: Scale(1, 0.5, "%"),
    100: Scale(1, 3.45, "kPa"),
    102: Scale(1, 0.862, "kPa"),
    105: Scale(1, 1.0, "degC", fahrenheit=True),
    108: Scale(1, 0.431, "kPa"),
    110: Scale(1, 1.0, "degC", fahrenheit=True),
    117: Scale(1, 4.14, "kPa"),
    118: Scale(1, 4.14, "kPa"),
    158: Scale(2, 0.05, "V"),
    167: Scale(2, 0.05, "V"),
    168: Scale(2, 0.05, "V"),
    171: Scale(2, 0.25, "degC", signed=True, fahrenheit=True),
    172: Scale(2, 0.25, "degC", signed=True, fahrenheit=True),
    174: Scale(2, 0.25, "degC", signed=True, fahrenheit=True),
    175: Scale(2, 0.25, "degC", signed=True, fahrenheit=True),
    177: Scale(2, 0.25, "degC", signed=True, fahrenheit=True),
    190: Scale(2, 0.25, "rpm"),
    191: Scale(2, 0.25, "rpm"),
    245: Scale(4, 0.161, "km"),
    247: Scale(4, 0.05, "h"),
}


def pid_name(pid: int) -> str:
    """The plain name of a PID; "PID n" where it is not among the known."""
    return PID_NAMES.get(pid, f"PID {pid}")


def pid_value(pid: int, data: bytes) -> float | None:
    """The figure a parameter carries, in the unit of `SCALES`; None where it has none or says "not available"."""
    scale = SCALES.get(pid)
    if scale is None or len(data) != scale.length or data == b"\xff" * scale.length:
        return None
    value = int.from_bytes(data, "little", signed=scale.signed) * scale.factor
    return (value - 32.0) / 1.8 if scale.fahrenheit else value
