"""Fault lists: PID 194 of SAE J1587, and what its entries mean to a technician at the connector.

An entry is a number and a code byte, and a count where the code byte says so. Bits of the code byte: 8 a count follows,
7 inactive, 6 the number is below 256, 5 it names a subsystem (SID) and not a parameter (PID), 4-1 failure mode (FMI).
As in the open decoder grimm-co/stm32-j1708 (j1708/pid_types.py, sid_consts.py); names are paraphrased from there.
Which subsystems speak about a link, and how to read them: common practice, no source.
"""

from __future__ import annotations

from dataclasses import dataclass

from linkcheck.j1708.pids import pid_name

__all__ = ["FAULT_LIST", "FMI_TEXTS", "LINK_SIDS", "SID_NAMES", "ListedFault", "fault_list"]

FAULT_LIST = 194
_COUNTED, _INACTIVE, _STANDARD, _SUBSYSTEM, _FMI = 0x80, 0x40, 0x20, 0x10, 0x0F

FMI_TEXTS: dict[int, str] = {
    0: "above normal",
    1: "below normal",
    2: "erratic, intermittent or incorrect",
    3: "voltage above normal, or shorted high",
    4: "voltage below normal, or shorted low",
    5: "current below normal, or open circuit",
    6: "current above normal, or shorted to ground",
    7: "mechanical system does not respond",
    8: "abnormal frequency, pulse width or period",
    9: "abnormal update rate",
    10: "abnormal rate of change",
    11: "failure not identifiable",
    12: "bad device or component",
    13: "out of calibration",
    14: "special instructions",
    15: "reserved failure mode",
}

SID_NAMES: dict[int, str] = {  # the same for every sender; those below 151 depend on it
    151: "system diagnostic code 1",
    152: "system diagnostic code 2",
    153: "system diagnostic code 3",
    154: "system diagnostic code 4",
    155: "system diagnostic code 5",
    205: "J1939 network 3",
    206: "J1939 network 2",
    211: "5 V sensor supply 2",
    212: "5 V sensor supply 1",
    213: "power-line data link",
    214: "backup battery of the module",
    216: "another module's codes",
    218: "main relay",
    221: "internal sensor supply",
    230: "idle validation switch",
    231: "J1939 data link",
    232: "5 V supply",
    233: "controller 2",
    238: "red lamp",
    239: "amber lamp",
    240: "program memory",
    248: "proprietary data link",
    249: "J1922 data link",
    250: "J1708 data link",
    251: "power supply",
    252: "calibration module",
    253: "calibration memory",
    254: "controller 1",
}

LINK_SIDS = frozenset({205, 206, 213, 231, 248, 249, 250})


@dataclass(frozen=True, slots=True)
class ListedFault:
    """One entry.

    Attributes:
        number: of a PID, or of a SID where `subsystem` is set; 256 and more included.
        subsystem: see `number`. fmi: failure mode, 0-15. active: now, or only stored.
        count: how often; None where it is not told.

    """

    number: int
    subsystem: bool
    fmi: int
    active: bool
    count: int | None

    @property
    def about_a_link(self) -> bool:
        """Whether it speaks about a data link and not about a sensor or an actuator."""
        return self.subsystem and self.number in LINK_SIDS

    @property
    def text(self) -> str:
        """What is wrong, in words."""
        if self.subsystem:
            name = SID_NAMES.get(self.number, f"subsystem {self.number} of this module")
        else:
            name = pid_name(self.number)
        return f"{name}: {FMI_TEXTS[self.fmi]}"


def fault_list(data: bytes) -> tuple[list[ListedFault], bytes]:
    """The entries of a fault list, and what is left where the last one is not whole."""
    found: list[ListedFault] = []
    place = 0
    while place + 2 <= len(data):
        number, code = data[place], data[place + 1]
        counted = bool(code & _COUNTED)
        if counted and place + 3 > len(data):
            break
        found.append(
            ListedFault(
                number + (0 if code & _STANDARD else 256),
                bool(code & _SUBSYSTEM),
                code & _FMI,
                not code & _INACTIVE,
                data[place + 2] if counted else None,
            )
        )
        place += 3 if counted else 2
    return found, data[place:]
